#!/usr/bin/env python3
"""That every loop of the rooms that a ride, or a device, drives comes to an end.

usage: loops.py              each loop is counted, has a variant, or its reason in loops.txt
       loops.py --variants   what is said of the variants, proved by Frama-C's WP

A loop is counted when it is `for (T i = …; … i < end …; i++)`, or the same down to 0, and neither i
nor the end is written in its body. What its body calls is not looked into: an end that it writes is
no longer than the array, by Eva, which i comes to all the same. A variant, `loop variant` right above
a loop, is a number that is not below 0 where a turn begins, and has fallen where it ends.
"""
import glob
import os
import re
import subprocess
import sys

ROOMS = ['base', 'body', 'wire', 'ride']
REASONS = 'tests/prove/loops.txt'
LOG = 'build/prove/loops.log'


def without_comments(text):
    """The same number of characters, so that places stay."""
    return re.sub(r'/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])+\'',
                  lambda found: re.sub(r'[^\n]', ' ', found.group()), text, flags=re.S)


def closing(code, at):
    """Behind the bracket that closes the one at `at`."""
    opens, depth = code[at], 0
    closes = {'(': ')', '{': '}'}[opens]
    for place in range(at, len(code)):
        depth += (code[place] == opens) - (code[place] == closes)
        if depth == 0:
            return place + 1
    raise ValueError('brackets do not match')


def statement_end(code, at):
    at += len(code[at:]) - len(code[at:].lstrip())
    if code[at] == '{':
        return closing(code, at)
    headed = re.compile(r'(?:if|for|while|switch)\s*(?=\()').match(code, at)
    if headed is None:
        return code.index(';', at) + 1
    end = statement_end(code, closing(code, headed.end()))
    otherwise = re.compile(r'\s*else\b').match(code, end)
    return statement_end(code, otherwise.end()) if otherwise else end


def is_written(name, body):
    name = re.escape(name)
    return re.search(rf'(\+\+|--|(?<!&)&)\s*{name}\b(?!\s*(\.|->|\[))|(?<![\w.>]){name}\s*'
                     rf'(\+\+|--|[-+*/%|&^]?=(?!=)|<<=|>>=)', body) is not None


def is_counted(head, body):
    """Of a for's three parts and its body."""
    begin, condition, step = (part.strip() for part in head.split(';'))
    declared = re.match(r'[\w ]+?\b(\w+) = ', begin)
    if declared is None:
        return False
    i = declared.group(1)
    if step == '' and re.match(rf'{i}-- > 0$', condition):
        return not is_written(i, body)
    ends = '|'.join([rf'{i} < (?P<end>[^&|]+)', rf'{i} <= (?P<constant>[A-Z0-9_]+)'])
    up = next(filter(None, (re.match(rf'(?:{ends})$', part.strip())
                            for part in condition.split('&&'))), None)
    if up is not None and step == f'{i}++':
        names = re.findall(r'[a-z]\w*(?:(?:->|\.)\w+)*', up['end'] or '')
        return not any(is_written(name, body) for name in [i, *names])
    down = re.match(rf'{i} > \w+$', condition)
    return down is not None and step == f'{i}--' and not is_written(i, body)


def loops_in(path):
    """Of each loop its line, its head, whether it has a variant, and whether it is counted."""
    with open(path) as file:
        text = file.read()
    code = without_comments(text)
    ends_of_do = set()
    for found in re.finditer(r'\b(for|while|do)\b', code):
        kind, at = found.group(1), found.start()
        if at in ends_of_do:
            continue
        above = text[len(code[:at].rstrip()):at]
        if kind == 'do':
            body_end = statement_end(code, found.end())
            at_while = code.index('while', body_end)
            ends_of_do.add(at_while)
            head = code[at_while:closing(code, code.index('(', at_while))]
            counted = False
        else:
            opening = code.index('(', at)
            body_at = closing(code, opening)
            head = code[at:body_at]
            counted = kind == 'for' and \
                is_counted(code[opening + 1:body_at - 1], code[body_at:statement_end(code, body_at)])
        yield (code.count('\n', 0, at) + 1, re.sub(r'\s+', ' ', head), 'loop variant' in above,
               counted)


def reasons():
    """Lines of loops; an indented reason stands below each group of them."""
    with open(REASONS) as file:
        blocks = re.split(r'\n\s*\n', file.read())
    found = set()
    for block in blocks:
        lines = [line for line in block.splitlines() if line and not line.startswith('#')]
        heads = [line for line in lines if not line.startswith(' ')]
        if heads and len(heads) == len(lines):
            sys.exit(f'{REASONS}: no reason given for: {heads[0]}')
        found.update(heads)
    return found


def sources():
    return [path for room in ROOMS for path in sorted(glob.glob(f'src/{room}/*.c'))]


def check():
    known, used, wrong = reasons(), set(), []
    count = {'counted': 0, 'variant': 0, 'reason': 0}
    for path in sources():
        for line, head, has_variant, counted in loops_in(path):
            what = f'{path}: {head}'
            if counted or has_variant:
                count['variant' if has_variant else 'counted'] += 1
            elif what in known:
                used.add(what)
                count['reason'] += 1
            else:
                wrong.append(f'{path}:{line}: what makes it end? {head}')
    wrong += [f'{REASONS}: there is no such loop, or it needs no reason: {line}'
              for line in sorted(known - used)]
    for line in wrong:
        print(line, file=sys.stderr)
    print('  LOOPS   {counted} counted, {variant} with a variant, {reason} with a reason'
          .format(**count))
    return not wrong


def prove_variants(proved):
    """Those of the files in `proved` are proved with their contracts."""
    files = [path for path in sources() if path not in proved]
    folders = ' '.join(['-Iinclude', '-Isrc'] + [f'-Isrc/{room}' for room in ROOMS])
    os.makedirs(os.path.dirname(LOG), exist_ok=True)
    with open(LOG, 'w') as log:
        subprocess.run(['frama-c', '-c11', '-machdep', 'gcc_x86_64', '-wp', '-wp-prop=@variant',
                        '-wp-prover', 'z3,cvc4', '-wp-timeout', '30',
                        f'-cpp-extra-args={folders}', *files],
                       stdout=log, stderr=subprocess.STDOUT, check=False)
    with open(LOG) as log:
        said = log.read()
    goals = re.search(r'Proved goals: *(\d+) */ *(\d+)', said)
    wanted = 2 * sum(has_variant for path in files for _, _, has_variant, _ in loops_in(path))
    got, of = (int(goals[1]), int(goals[2])) if goals else (0, 0)
    print(f'  PROVE   loop variants: {got} of {wanted} goals')
    for line in re.findall(r'^\[wp\] \[(?:Failed|Timeout|Unknown)\].*', said, re.M):
        print(line)
    return got == of == wanted


def main():
    os.chdir(os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', '..'))
    if sys.argv[1:2] == ['--variants']:
        return 0 if prove_variants(sys.argv[2:]) else 1
    return 0 if check() else 1


if __name__ == '__main__':
    sys.exit(main())
