"""Job -> lettering: closed shapes in cap heights, letter by letter. Verbs: text shapes words, supplied reads files."""
