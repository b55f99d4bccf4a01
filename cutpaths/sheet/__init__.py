"""Labels -> Plan: framed, placed on the sheet, ordered for the cutter."""
