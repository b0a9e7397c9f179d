"""Measurements to panels: shapes drawn from a centre line outward, with holes, marks, groove and lace."""

from nesting.drafting.draft import Draft, draft

__all__ = ["Draft", "draft"]
