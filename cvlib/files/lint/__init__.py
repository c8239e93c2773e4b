"""Definition files looked through for faults: read, judged by the rules, told with their lines."""
