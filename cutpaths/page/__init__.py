"""The local web page: a job card, the rod, and the files to take away. It sends jobs and shows what comes back."""
