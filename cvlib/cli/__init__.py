"""What people type: options in, one call to the library, one result out, one exit code."""
