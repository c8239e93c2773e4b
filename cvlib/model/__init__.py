"""What things are: frozen values of the trade, with no files and no third party."""
