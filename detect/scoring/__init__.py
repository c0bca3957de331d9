"""Events, figures, intervals, unlabelled alarms, confounds."""
