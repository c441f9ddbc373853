"""Compares our declaration of the google.rpc error details with the published one.

usage: standard.py OURS.binpb

Source: the descriptors in the package googleapis-common-protos. Ours may have fewer
messages and fields; what it has must be the same on the wire.
"""

import sys
from pathlib import Path

from google.protobuf.descriptor_pb2 import DescriptorProto, FileDescriptorProto, FileDescriptorSet
from google.rpc import error_details_pb2


def fields(message: DescriptorProto, path: str) -> dict[str, tuple[object, ...]]:
    """Every field of a message and of those in it: what decides the wire format."""
    found = {
        f"{path}.{field.name}": (field.number, field.type, field.label, field.type_name) for field in message.field
    }
    for nested in message.nested_type:
        found |= fields(nested, f"{path}.{nested.name}")
    return found


def all_fields(file: FileDescriptorProto) -> dict[str, tuple[object, ...]]:
    found = {}
    for message in file.message_type:
        found |= fields(message, f"{file.package}.{message.name}")
    return found


[ours] = FileDescriptorSet.FromString(Path(sys.argv[1]).read_bytes()).file
published = FileDescriptorProto()
error_details_pb2.DESCRIPTOR.CopyToProto(published)
ours_fields, published_fields = all_fields(ours), all_fields(published)
assert len(ours_fields) >= 10, ours_fields
for name, form in ours_fields.items():
    assert published_fields.get(name) == form, f"{name} is {form}, published {published_fields.get(name)}"
