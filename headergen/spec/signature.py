"""The hash of what a spec means: it does not depend on how the spec is written, but on everything that is made."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from headergen.model import Header, HeaderRef, MeshRef
from headergen.model.sign_off import HASH_LENGTH, HASH_LETTERS
from headergen.spec.writer import spec_text


def signature(header: Header) -> str:
    """The hash, in letters, of the full spec and the meshes in its chassis, without earlier signatures.

    What was measured of tubes half built is left out: it is how the shop gets there, not what the customer signed.
    """
    draft = header.draft
    unsigned = replace(header, draft=replace(draft, as_built=(), job=replace(draft.job, signed="")))
    files = [item.shape.sha256 for item in draft.chassis if isinstance(item.shape, MeshRef | HeaderRef)]
    digest = hashlib.sha256("\n".join([spec_text(unsigned), *files]).encode()).digest()
    nibbles = [half for byte in digest for half in (byte >> 4, byte & 15)]
    return "".join(HASH_LETTERS[half] for half in nibbles[:HASH_LENGTH])
