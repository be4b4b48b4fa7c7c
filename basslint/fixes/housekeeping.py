"""Fixes."""
