"""Rows and a zone set in, an audit out: codes and numbers, whose words are made in `told`."""

from steadyband.audit.session import audit_session

__all__ = ["audit_session"]
