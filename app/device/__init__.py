"""The pages of the Device panel tied to the session of a workbench, one file a page."""
