#!/usr/bin/env python3
"""Absence of run-time errors by Frama-C's Eva.

Usage: eva.py --proved FILE... [--only DRIVER...]

Each tests/prove/<room>_<what>.c is a program that calls a room with anything it may be called with.
Eva goes through it with intervals in place of values: what it names no alarm for cannot happen.
Every alarm left stands in tests/prove/accepted.txt with its reason; one that is new, one that is
gone, a driver that does not get to its end, and a function of a covered source that no driver gets
to, fail.

Within the files --proved WP proves the contracts, and that their callers keep them is Eva's, as all
else is: WP does not ask whether what is read was written.
"""
import argparse
import collections
import concurrent.futures
import csv
import glob
import os
import re
import subprocess
import sys
import time

# What a room may know, of those whose code is run here.
ROOMS = {'base': ['base'], 'wire': ['base', 'wire'], 'ride': ['base', 'body', 'ride']}
COVERED = ['base/*', 'ride/*', 'wire/att_security', 'wire/ftms*', 'wire/gatt_*',
           'wire/sensor_client', 'wire/usb_tra*']
FLAGS = ['-c11', '-machdep', 'gcc_x86_64', '-cpp-extra-args=-Iinclude -Isrc -Itests/prove',
         '-eva', '-eva-msg-key=-final-states,-initial-state']
TAKEN = '-eva-use-spec'
PRECISION = '-eva-precision'
# What that sets, but the subdivision of intervals: with it Frama-C 25 loses alarms. Of a * a / w it
# does not say that w may be 0, of a * a << w not that w may be more than an int has bits.
PRECISIONS = {
    '0': '-eva-precision 0',
    '1': '-eva-auto-loop-unroll 16 -eva-widening-delay 1 -eva-slevel 10 -eva-ilevel 12'
         ' -eva-plevel 20 -eva-domains symbolic-locations',
    '4': '-eva-auto-loop-unroll 96 -eva-slevel 60 -eva-ilevel 32 -eva-plevel 100'
         ' -eva-domains equality,gauges,symbolic-locations -eva-split-return auto',
}
OF_WP = re.compile('(pre|post)condition|user assertion')
LIMIT_S = 1500
# They begin first, so that no core is left alone with one of them at the end.
SLOWEST = ['wire_gatt_client', 'wire_usb_receiver', 'ride_step', 'wire_gatt_server']
HERE = 'tests/prove'


class Failed(Exception):
    pass


def all_drivers():
    return sorted(os.path.splitext(os.path.basename(path))[0] for path in glob.glob(f'{HERE}/*_*.c'))


def options_of(driver):
    """The lines "Eva: ..." in the driver's first comment, a precision before all else."""
    with open(f'{HERE}/{driver}.c') as file:
        found = re.findall(r'Eva: (-[^*\n]*)', file.read())
    first, precision, *others = ' '.join(found).split() or [PRECISION, '4']
    if first != PRECISION or precision not in PRECISIONS or PRECISION in others:
        raise Failed(f'{driver}: {PRECISION} 0, 1 or 4 comes first in its options')
    return PRECISIONS[precision].split() + others


def left_out_of(driver):
    """The sources "In place of: ..." which a driver has functions of its own."""
    with open(f'{HERE}/{driver}.c') as file:
        return re.findall(r'In place of: (\S+)', file.read())


def taken_of(driver):
    """What a driver believes of functions, by contract or what it has in place of them; another
    one shows it."""
    options = options_of(driver)
    return [function for option, functions in zip(options, options[1:]) if option == TAKEN
            for function in functions.split(',')] + \
        [name for path in left_out_of(driver) for head, name in functions_in(path)
         if not head.startswith('static')]


def plain(function):
    """Of functions with one name in several files Frama-C numbers all but the first."""
    return re.sub(r'_\d\d?$', '', function)


def sources_of(driver):
    rooms = ROOMS[driver.split('_')[0]]
    return [path for room in rooms for path in sorted(glob.glob(f'src/{room}/*.c'))
            if path not in left_out_of(driver)]


def run(driver, folder='build/prove', planted=None):
    """Eva's log and its table of what it could not show; a source may be that in the folder."""
    log, table = f'{folder}/{driver}.log', f'{folder}/{driver}.csv'
    sources = [f'{folder}/{path}' if path == planted else path for path in sources_of(driver)]
    private = [f'-cpp-extra-args=-I{os.path.dirname(planted)}'] if planted else []
    # The driver comes last, so that names met before keep theirs.
    command = ['frama-c', *FLAGS, *private, *options_of(driver), *sources, f'{HERE}/{driver}.c',
               '-then', '-report-no-proven', '-report-csv', table, '-metrics',
               '-metrics-eva-cover']
    if os.path.exists(table):
        os.remove(table)
    with open(log, 'w') as file:
        try:
            status = subprocess.run(command, stdout=file, stderr=subprocess.STDOUT,
                                    timeout=LIMIT_S).returncode
        except subprocess.TimeoutExpired:
            raise Failed(f'{driver}: not done after {LIMIT_S} s; see {log}') from None
    with open(log) as file:
        text = file.read()
    if status != 0 or not os.path.exists(table):
        raise Failed(f'{driver}: frama-c failed; see {log}')
    with open(table) as file:
        rows = list(csv.DictReader(file, delimiter='\t', quoting=csv.QUOTE_NONE))
    return text, rows


def alarms_in(rows, proved, taken):
    """Places in our sources, without the lines: those move too often."""
    found = set()
    for row in rows:
        path = f"{row['directory']}/{row['file']}"
        kind = row['property kind']
        if not path.startswith(('src/', 'include/', HERE)):
            continue
        if path in proved and OF_WP.match(kind):
            continue
        status = '' if row['status'] == 'Unknown' else f"{row['status']}: "
        what = re.sub(r'\s+', ' ', row['property']).strip()
        if kind in ('assigns clause', 'from clause') or kind == 'precondition':
            continue  # of a built-in; met again at each call
        if kind == 'postcondition' and row['function'] in taken:
            continue
        found.add(f"{path} {plain(row['function'])}: {status}{kind}: {what}")
    return found


def statements_in(log):
    """Per function, how many statements Eva got to, and of how many."""
    part = log[log.index('Statements analyzed by Eva'):]
    return {name: (int(got), int(all_)) for name, got, all_ in
            re.findall(r'^  (\w+): (\d+) stmts out of (\d+)', part, re.M)}


def functions_in(path):
    """What a source defines: each function's type, and its name."""
    with open(path) as file:
        return re.findall(r'^([a-z][^;={}()]*?)\b(\w+)\([^;{}]*\)\n\{', file.read(), re.M)


def defined_in(covered):
    """How many functions of each name these sources define."""
    return collections.Counter(name for path in glob.glob(f'src/{covered}.c')
                               for _, name in functions_in(path))


def analyse(driver, proved):
    start = time.monotonic()
    log, rows = run(driver)
    alarms, statements = alarms_in(rows, proved, taken_of(driver)), statements_in(log)
    got, all_ = statements.get('main', (0, 1))
    if got < all_:
        raise Failed(f'{driver}: does not get to its end; see build/prove/{driver}.log')
    reached, total = (sum(column) for column in zip(*statements.values()))
    print(f'  EVA     {driver}: {len(statements)} functions, {reached} of {total} statements in '
          f'them, {len(alarms)} alarms, {time.monotonic() - start:.0f} s',
          flush=True)
    return alarms, set(statements) - set(taken_of(driver))


def on_every_core(function, drivers):
    """What the function gives for each driver, in any order."""
    def place(driver):
        return SLOWEST.index(driver) if driver in SLOWEST else len(SLOWEST)

    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(function, sorted(drivers, key=place)))


def accepted():
    """Lines of alarms, each block of them with its indented reason below."""
    found, waiting = set(), []
    with open(f'{HERE}/accepted.txt') as file:
        for line in file:
            if not line.strip() or line.startswith('#'):
                continue
            if line.startswith(' '):
                found.update(waiting)
                waiting = []
            else:
                waiting.append(line.strip())
    if waiting:
        raise Failed(f'{HERE}/accepted.txt: no reason given for: {waiting[0]}')
    return found


def judge(alarms, functions, taken, is_whole):
    """Lines of what is wrong."""
    known = accepted()
    wrong = [f'new alarm: {alarm}' for alarm in sorted(alarms - known)]
    if not is_whole:
        return wrong
    known_functions = {line for line in known if line.startswith('not analysed: ')}
    missing = set()
    for covered in COVERED:
        reached = collections.Counter(plain(name) for name in functions)
        for name, count in defined_in(covered).items():
            if reached[name] < count:
                missing.add(f'not analysed: {covered} {name}')
    wrong += [f'taken for granted, and shown by no driver: {name}'
              for name in sorted(taken - functions)]
    wrong += [f'new: {line}' for line in sorted(missing - known_functions)]
    wrong += [f'gone, take it out of {HERE}/accepted.txt: {line}'
              for line in sorted((known - alarms) - missing)]
    return wrong


def main():
    options = argparse.ArgumentParser()
    options.add_argument('--proved', nargs='+', default=[])
    options.add_argument('--only', nargs='+')
    asked = options.parse_args()
    drivers = asked.only or all_drivers()
    os.makedirs('build/prove', exist_ok=True)

    def try_one(driver):
        try:
            return (*analyse(driver, asked.proved), None)
        except Failed as failure:
            return set(), set(), str(failure)

    alarms, functions, failures = zip(*on_every_core(try_one, drivers))
    wrong = [failure for failure in failures if failure]
    if not wrong:
        taken = {function for driver in drivers for function in taken_of(driver)}
        wrong = judge(set().union(*alarms), set().union(*functions), taken,
                      is_whole=not asked.only)
    for line in wrong:
        print(f'  EVA     {line}')
    return 1 if wrong else 0


if __name__ == '__main__':
    sys.exit(main())
