#!/usr/bin/env python3
"""Whether Eva's drivers see anything: each must raise the alarm that its fault in planted.txt names.

usage: planted.py [DRIVER...]

The fault stands in a copy of the source; nothing of the tree changes.
"""
import os
import sys

import eva

sys.path.insert(0, 'tests/tools')
import faults  # noqa: E402

FILE = f'{eva.HERE}/planted.txt'


def read_planted():
    """Of each driver: the fault's name, the alarm, the source, and its lines before and after."""
    found = {}
    for (name, where, alarm), before, after in faults.read(FILE):
        driver, _, subject = where.removeprefix('driver ').partition(' in ')
        found[driver] = (name, alarm.removeprefix('alarm '), subject, before, after)
    return found


def is_seen(driver, fault):
    name, alarm, subject, before, after = fault
    folder = f'build/prove/planted/{driver}'
    os.makedirs(os.path.dirname(f'{folder}/{subject}'), exist_ok=True)
    with open(f'{folder}/{subject}', 'w') as file:
        file.write(faults.plant(name, subject, before, after))
    try:
        _, rows = eva.run(driver, folder, subject)
    except eva.Failed as failure:
        print(f'  PLANT   {failure}', flush=True)
        return False
    for row in rows:
        row['directory'] = row['directory'].removeprefix(f'{folder}/')
    new = eva.alarms_in(rows, [], eva.taken_of(driver)) - eva.accepted()
    seen = any(line.startswith(alarm) for line in new)
    lines = [f"{driver}: {name}: {'seen' if seen else 'not seen; there is'}",
             *([] if seen else sorted(new) or ['no new alarm'])]
    print('\n'.join(f'  PLANT   {line}' for line in lines), flush=True)
    return seen


def main():
    planted = read_planted()
    blind = sorted(set(eva.all_drivers()) - set(planted))
    for driver in blind:
        print(f'  PLANT   {driver}: {FILE} has no fault for it')
    drivers = sys.argv[1:] or sorted(planted)
    seen = eva.on_every_core(lambda driver: is_seen(driver, planted[driver]), drivers)
    return 0 if all(seen) and not blind else 1


if __name__ == '__main__':
    sys.exit(main())
