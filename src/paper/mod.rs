//! Outputs: papers that leave the bench. One view is computed once; writers only format it.
