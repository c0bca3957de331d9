"""The open study, without Qt: immutable state, the actions that change it, the way from state to results."""
