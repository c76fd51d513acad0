"""The gym screen: one page on this computer that shows a lesson and takes its keys."""
