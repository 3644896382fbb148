//! Outputs: use cases shared by the command line and the window.
