"""Faults that somebody could make, to be planted where something should find them.

A file of faults has one a block: the lines that its reader asks for, then the lines of the source
as they are (-) and as they would be (+).
"""
import sys


def read(path):
    """Of each fault the lines above its change, what stands there now, and what would."""
    with open(path) as file:
        blocks = file.read().split('\n\n')
    faults = []
    for block in blocks:
        lines = [line for line in block.splitlines() if line and not line.startswith('#')]
        if lines:
            faults.append(([line for line in lines if line[0] not in '-+'],
                           '\n'.join(line[1:] for line in lines if line[0] == '-'),
                           '\n'.join(line[1:] for line in lines if line[0] == '+')))
    return faults


def plant(name, subject, before, after):
    """The text of `subject` with the fault in it."""
    with open(subject) as file:
        text = file.read()
    if text.count(before) != 1:
        sys.exit(f'{name}: its lines stand {text.count(before)} times in {subject}, not once')
    return text.replace(before, after)
