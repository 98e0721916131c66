"""An audit's codes and numbers in words and in the output contract, by the reader's units and clock; nothing here is stored."""

from steadyband.told.findings import finding_text
from steadyband.told.flat import audit_to_flat
from steadyband.told.output import audit_to_dict, contract_schema

__all__ = ["audit_to_dict", "audit_to_flat", "contract_schema", "finding_text"]
