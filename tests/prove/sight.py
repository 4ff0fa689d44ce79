#!/usr/bin/env python3
"""Whether Eva sees what goes wrong, with the options that the drivers give it.

Each function of tests/prove/sight.c goes wrong, and Eva must say so of all of them with the options
of every driver, but those that are for functions of its own. Some of its options lose alarms:
see PRECISIONS in eva.py.
"""
import csv
import os
import re
import subprocess
import sys

import eva

SOURCE = f'{eva.HERE}/sight.c'
TABLE = 'build/prove/sight.csv'


def common_options(driver):
    options = iter(eva.options_of(driver))
    for option in options:
        if option == eva.TAKEN or option.endswith('-function'):
            next(options)
        else:
            yield option


def seen_with(options):
    command = ['frama-c', *eva.FLAGS, *options, SOURCE, '-then', '-report-no-proven',
               '-report-csv', TABLE]
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
    with open(TABLE) as file:
        rows = list(csv.DictReader(file, delimiter='\t', quoting=csv.QUOTE_NONE))
    return {row['function'] for row in rows}


def main():
    with open(SOURCE) as file:
        wrong = set(re.findall(r'^static \w+ (\w+)\(', file.read(), re.M))
    drivers = {}
    for driver in eva.all_drivers():
        drivers.setdefault(tuple(common_options(driver)), driver)
    os.makedirs('build/prove', exist_ok=True)
    missed = [f'{driver}: with its options Eva does not see that {function} of {SOURCE} goes wrong'
              for options, driver in drivers.items()
              for function in sorted(wrong - seen_with(options))]
    for line in missed:
        print(f'  SIGHT   {line}')
    print(f'  SIGHT   {len(wrong)} faults, {len(drivers)} sets of options')
    return 1 if missed else 0


if __name__ == '__main__':
    sys.exit(main())
