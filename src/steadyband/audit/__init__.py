"""Arrays and a zone set in, an audit out."""

from steadyband.audit.flat import audit_to_flat
from steadyband.audit.output import audit_to_dict, contract_schema
from steadyband.audit.session import audit_session

__all__ = ["audit_session", "audit_to_dict", "audit_to_flat", "contract_schema"]
