"""What can be said: the catalogue of finding codes and the frozen finding."""
