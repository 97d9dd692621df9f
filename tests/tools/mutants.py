#!/usr/bin/env python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""mutants.py BUILD PART: do the tests of a part see when its code is wrong? Each mutant is one small change to one source file.
The tests are linked once with all objects of BUILD as a shared library, and before it with another that holds the one changed
object: what that defines, counts. Which lines each test reaches is known from gcov: only those that come near the change are run.
What they let live is tried under the sanitizers too, by those that take less than half a second.
All that is made lies in BUILD/mutant; no file of the tree is touched.
From the environment: COUNT mutants are tried (150), drawn with SEED, within MINUTES (60); ONLY is the beginning of FILE:LINE; tests
that take LONGEST seconds (20) are left out; V says what killed each, and which lines no test comes near; CC, COMPILE, LINK and
SANITIZERS are the compiler and its flags."""
import glob
import json
import os
import random
import re
import resource
import shlex
import subprocess
import sys
import time

KNOWN = 'tests/data/mutants-known.txt'
ENOUGH = 0.9
# The programs that cover a part, by how their names begin; a second word is the one test of it that is run.
TESTS = {
    'rig': ('rig_', 'cmd_readings', 'check_rules', 'check_site', 'parts_memory a_report_of_readings', 'parts_memory a_sum_over_feeds'),
    'dmx': ('dmx_', 'engine_lights', 'check_rules', 'parts_memory a_timeline', 'parts_memory a_survey*'),
    'engine': ('engine_', 'alerts', 'next_step', 'headless_run', 'drill_inject', 'parts_memory a_rehearsal', 'parts_memory an_action*'),
    'drill': ('drill_', 'cmd_drill', 'parts_memory a_drill*'),
    'walk': ('walk_', 'cmd_walk', 'boards_walk', 'session_walk', 'parts_memory a_walk'),
    'logbook': ('logbook_', 'console_kept', 'parts_memory a_logbook', 'parts_memory a_replay'),
}

TOKEN = re.compile(r'''//[^\n]*|/\*.*?\*/|\#(?:\\\n|[^\n])*|"(?:\\.|[^"\\])*"|'(?:\\.|[^'\\])*'|[A-Za-z_]\w*|\.?\d[\w.]*
    |->|<<=|>>=|\+\+|--|<<|>>|<=|>=|==|!=|&&|\|\||[-+*/%&|^]=|\S''', re.X | re.S)
FLIPS = {'==': '!=', '!=': '==', '<': '<=', '<=': '<', '>': '>=', '>=': '>'}
LEAVES = ('return', 'continue', 'break', 'goto')
ENDS_OPERAND = ('&&', '||', ';', ',', '?', ':', '=', 'return')
OPENS, CLOSES = '([{', ')]}'


# ---- the changes -----------------------------------------------------------------------------------------------

def partner(tokens, i, step=1):
    """The bracket that closes the one at I; with step -1 the one that opens it."""
    depth = 0
    while True:
        depth += (tokens[i][0] in OPENS) - (tokens[i][0] in CLOSES)
        if depth == 0:
            return i
        i += step


def tokens_of(text):
    """(token, begin, end) of the code, without comments, directives and what is asserted."""
    found = [(m.group(), m.start(), m.end()) for m in TOKEN.finditer(text) if m.group()[:2] not in ('//', '/*') and m.group()[0] != '#']
    kept, i = [], 0
    while i < len(found):
        if re.fullmatch('(static_|_Static_)?assert', found[i][0]):
            i = partner(found, i + 1)
        else:
            kept.append(found[i])
        i += 1
    return kept


def beside(tokens, i, step):
    """The first and the last token of the operand before (step -1) or behind (1) the operator at I."""
    inward, outward = (OPENS, CLOSES) if step > 0 else (CLOSES, OPENS)
    j = i + step
    while tokens[j][0] not in ENDS_OPERAND and tokens[j][0] not in outward:
        j = (partner(tokens, j, step) if tokens[j][0] in inward else j) + step
    return sorted((i + step, j - step))


def mutants_of(text):
    """(begin, end, what stands there instead, what that is)"""
    tokens, found = tokens_of(text), []

    def add(first, last, new, what):
        found.append((tokens[first][1], tokens[last][2], new, what))

    for i, (token, _, _) in enumerate(tokens[:-3]):
        after = tokens[i + 1][0]
        if token in FLIPS:
            add(i, i, FLIPS[token], f'{token} to {FLIPS[token]}')
        elif token in ('&&', '||'):
            for step, side in ((-1, 'left'), (1, 'right')):
                add(*beside(tokens, i, step), '1' if token == '&&' else '0', f'{token} without its {side} side')
        elif token == '!':
            add(i, i, '', '! dropped')
        elif token == 'if':
            close = partner(tokens, i + 1)
            if tokens[close + 1][0] in LEAVES or (tokens[close + 1][0] == '{' and tokens[close + 2][0] in LEAVES):
                add(i + 2, close - 1, '0', 'guard dropped')
        elif token in ('+', '-') and after == '1' and re.match(r'[\w)\]]', tokens[i - 1][0]) and tokens[i - 1][0] != 'return':
            add(i, i + 1, '', f'{token} 1 dropped')
    return list({mutant[:3]: mutant for mutant in found}.values())  # `a && b && c` names b twice


def known_mutants():
    """FILE | the line without its indent | what, as a reason stands for them."""
    with open(KNOWN, encoding='utf-8') as file:
        rows = [line.rstrip('\n').split(' | ') for line in file if line.strip() and line[0] != '#']
    return {tuple(row[:3]) for row in rows}


# ---- trying them -------------------------------------------------------------------------------------------------

def run(words, seconds, environment):
    """'passes', 'fails' (also what takes more of the processor than it may), or 'waits': for ever, or for a busy machine."""
    def limit():
        resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 1))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    child = subprocess.Popen(words, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                             start_new_session=True, env=environment, preexec_fn=limit)
    try:
        return 'fails' if child.wait(30 + 10 * seconds) else 'passes'
    except subprocess.TimeoutExpired:
        return 'waits'
    finally:
        try:
            os.killpg(child.pid, 9)  # with what it started
        except ProcessLookupError:
            pass
        child.wait()


def own_seconds():
    """What all programs run so far took of the processor."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


class Bench:
    """The tests of a part, ready to run with one object in place of another."""
    def __init__(self, part, build, programs, longest, more_flags):
        self.cc, self.flags, libraries = (shlex.split(os.environ[name]) for name in ('CC', 'COMPILE', 'LINK'))
        self.flags += more_flags
        self.folder = os.path.abspath(f'{build}/mutant/{part}{"-sanitized" if more_flags else ""}')
        os.makedirs(self.folder, exist_ok=True)
        self.environment = {**os.environ, 'SLOWMATCH_BUILD': self.folder, 'LD_LIBRARY_PATH': self.folder,
                            'CMOCKA_TEST_ABORT': '1'}
        self.before = []  # what goes before the library, with the change
        self.library = [f'-L{self.folder}', '-Wl,--no-as-needed', '-lchanged', '-lslowmatch', *libraries, *more_flags]
        sources = [f'{folder}/{name}' for top in ('src', 'tests/support') for folder, _, names in os.walk(top) for name in names]
        objects = {name: f'{build}/obj/{name[:-2]}.o' for name in sources if name.endswith('.c')}
        program = [name for name in objects if name.startswith(('src/cmd/', 'src/main.c'))]
        if more_flags:  # the part's own tables and what lies in an arena have ends that are watched
            for path in ['tests/tools/exact_arena.c', *(name for name in objects if name.startswith(f'src/{part}/'))]:
                objects[path] = f'{self.folder}/{path.replace("/", "_")}.o'
                self.compile(path, objects[path])
            self.before = [objects.pop('tests/tools/exact_arena.c')]
        self.change('-xc', '/dev/null')
        self.link('libslowmatch.so', ['-shared', *(objects[name] for name in objects if name not in program), *libraries])
        self.link('slowmatch', [objects[name] for name in program] + self.library)
        self.seconds, self.as_is, self.kills, self.reached = {}, {}, {}, {}
        for name in programs:
            self.make_test(name)
        self.tests = sorted((name for name in self.seconds if self.seconds[name] < longest), key=self.seconds.get)
        if not self.tests:
            sys.exit('no test of this part runs')
        print('tests:', ', '.join(f'{name} {self.seconds[name]:.1f} s' for name in self.tests), flush=True)

    def compile(self, path, to, text=None):
        """The object's bytes, or nothing. Without TEXT the file as it is, which a compiler's cache may know."""
        words = [*self.cc, *self.flags, '-w', '-fPIC', '-iquote', os.path.dirname(path), '-x', 'c', '-c', '-' if text else path, '-o', to]
        line = f'#line 1 "{path}"\n{text}'.encode() if text else None
        done = subprocess.run(words, input=line, stderr=subprocess.DEVNULL, check=False)
        with open(to if done.returncode == 0 else os.devnull, 'rb') as file:
            return file.read()

    def link(self, to, words):
        subprocess.run([*self.cc, *words, '-o', f'{self.folder}/{to}'], check=True)

    def change(self, *words):
        self.link('libchanged.so', ['-shared', *words, '-xnone', *self.before])

    def make_test(self, name):
        program = name.split()[0]
        self.compile(f'tests/{program}.c', f'{self.folder}/test.o')
        self.link(program, [f'{self.folder}/test.o', *self.library])
        begin = own_seconds()
        if self.ends(name, 120) == 'passes':
            self.seconds[name] = own_seconds() - begin
        else:
            print(f'{name} fails on the code as it is, and is left out')

    def find_reached(self, texts):
        """Of each test, the (file, line) that it comes within two lines of."""
        folder = f'{self.folder}/reached'
        os.makedirs(folder, exist_ok=True)
        objects = [f'{folder}/{os.path.basename(path)[:-2]}.o' for path in texts]
        flags, self.flags = self.flags, [*self.flags, '--coverage', '-O1']
        for path, to in zip(texts, objects):
            self.compile(path, to)
        self.flags = flags
        self.change(*objects, '--coverage')
        for name in self.tests:
            for old in glob.glob(f'{folder}/*.gcda'):
                os.remove(old)
            self.ends(name, 60 + 10 * self.seconds[name])
            self.reached[name] = set()
            for counts in sorted(glob.glob(f'{folder}/*.gcda')):
                told = subprocess.run(['gcov', '-j', '-t', counts], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, check=False)
                for file in json.loads(told.stdout or '{"files": []}')['files']:
                    near = {line['line_number'] + off for line in file['lines'] if line['count'] for off in range(-2, 3)}
                    self.reached[name] |= {(file['file'], line) for line in near}
        if not any(self.reached.values()):
            sys.exit('gcov told nothing of what the tests reach; is CC its gcc?')

    def ends(self, name, seconds):
        test, *only = name.split()
        return run([f'{self.folder}/{test}', *only], seconds, self.environment)

    def sees(self, name, code):
        """Whether the test fails over CODE, and not because the machine is busy: it fails twice, and passes over the code as it is
        where it only waited. None where that cannot be said."""
        seconds = 2 + 3 * self.seconds[name]
        first = self.ends(name, seconds)
        if first == 'passes':
            return False
        if first == 'fails':
            return self.ends(name, seconds) != 'passes' or None
        self.change('-xc', '/dev/null')
        waits_alone = self.ends(name, seconds) == 'passes'
        self.change(code)
        return waits_alone or None

    def killer(self, path, line, code):
        """The first test that sees CODE, in the order in which they find most a second in this file; then the fast ones first.
        With it, whether some test could not be judged."""
        self.change(code)
        kills, unsure = self.kills.setdefault(path, {}), False
        near = [name for name in self.tests if (path, line) in self.reached[name]]
        for name in sorted(near, key=lambda name: (-kills.get(name, 0) / (0.05 + self.seconds[name]), self.seconds[name])):
            seen = self.sees(name, code)
            if seen:
                kills[name] = kills.get(name, 0) + 1
                return name, unsure
            unsure = unsure or seen is None
        return None, unsure

    def judge(self, path, text, mutant):
        begin, end, new, _ = mutant
        line = text.count('\n', 0, begin) + 1
        changed = f'{self.folder}/changed.o'
        code = self.compile(path, changed, text[:begin] + new + text[end:])
        if not code:
            return 'does not compile'
        if path not in self.as_is:
            self.as_is[path] = self.compile(path, f'{self.folder}/as_is.o', text)
        if code == self.as_is[path]:
            return 'same code'
        killer, unsure = self.killer(path, line, changed)
        return f'killed by {killer}' if killer else 'unsure' if unsure else 'SURVIVED'


def main():
    build, part = sys.argv[1:3]
    setting = os.environ.get
    seed, count, ends = int(setting('SEED') or time.time()), int(setting('COUNT') or 150), time.monotonic() + 60 * float(setting('MINUTES') or 60)
    known, chosen, texts = known_mutants(), [], {}
    for path in [f'src/{part}/{name}' for name in sorted(os.listdir(f'src/{part}')) if name.endswith('.c')]:
        with open(path, encoding='utf-8') as file:
            texts[path] = file.read()
        for mutant in mutants_of(texts[path]):
            line = texts[path].count('\n', 0, mutant[0]) + 1
            if f'{path}:{line}:'.startswith(setting('ONLY') or ''):
                chosen.append((path, line, mutant))
    print(f'{part}: {min(count, len(chosen))} of {len(chosen)} mutants, SEED={seed}')
    random.Random(seed).shuffle(chosen)
    programs = [f"{name[:-2]}{entry[len(entry.split()[0]):]}" for entry in TESTS[part] for name in sorted(os.listdir('tests'))
                if name.startswith(entry.split()[0]) and name.endswith('_test.c')]
    longest = float(setting('LONGEST') or 20)
    bench, sanitized = Bench(part, build, programs, longest, []), None
    bench.find_reached(texts)
    for path in texts if setting('V') else ():
        lines = sorted({line for reached, line in set().union(*bench.reached.values()) if reached == path})
        mutable = sorted({texts[path].count('\n', 0, mutant[0]) + 1 for mutant in mutants_of(texts[path])} - set(lines))
        print(f'{path}: reached by no test: {" ".join(map(str, mutable)) or "-"}')
    results, lived = {}, []
    for path, line, mutant in chosen[:count]:
        if time.monotonic() > ends:
            print('the time is over')
            break
        source = texts[path].split('\n')[line - 1].strip()
        result = 'known' if (path, source, mutant[3]) in known else bench.judge(path, texts[path], mutant)
        if result == 'SURVIVED':
            if not sanitized:  # made when it is first asked
                fast = [name for name in bench.tests if bench.seconds[name] < 0.5]
                sanitized = Bench(part, build, fast, longest, shlex.split(os.environ['SANITIZERS']))
                sanitized.reached = bench.reached
            result = sanitized.judge(path, texts[path], mutant)
        results[result.split()[0]] = results.get(result.split()[0], 0) + 1
        if result == 'SURVIVED':
            lived.append((path, line, f'{path}:{line}: {mutant[3]}: {source}'))
        if setting('V') or result == 'SURVIVED':
            print(f'{path}:{line}: {mutant[3]}: {result}: {source}', flush=True)
    print('\n'.join(words for _, _, words in sorted(lived)))
    killed, share = results.get('killed', 0), results.get('killed', 0) / max(1, results.get('killed', 0) + len(lived))
    print(f"{part}: {killed} killed, {len(lived)} survived ({100 * share:.0f} % killed), {results.get('known', 0)} known, "
          f"{results.get('same', 0)} with the same code, {results.get('does', 0)} did not compile, {results.get('unsure', 0)} not judged on a busy machine")
    return 0 if share >= ENOUGH else 1


if __name__ == '__main__':
    sys.exit(main())
