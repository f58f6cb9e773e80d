"""The record of a finding, its rank and its words."""
