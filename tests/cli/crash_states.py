"""Every state that a power cut can leave a folder in while a command works there.

A file system owes us what was asked of it and nothing more: the bytes of a file once that file was forced to disk, a
name that was made, moved or taken away once the folder that holds it was. Until then each may be there or not, in any
combination, and bytes may also be there by half or as zeros. A Recording has commands run under strace, takes what they
did to the watched folder, and lists for each point in time what may be found after a cut at that point.

What is on disk in the end must be what was recorded, so a system call that is not known here can't be overlooked. Modes
are not part of a state: who judges it owns the files.
"""
import dataclasses, itertools, math, os, random, re, subprocess, tempfile

TRACED = ("open openat creat write pwrite64 writev lseek ftruncate fsync fdatasync sync syncfs mkdir mkdirat rename "
          "renameat renameat2 unlink unlinkat rmdir").split()
WHOLE, ABSENT, HALF, ZEROS = "whole", "absent", "half", "zeros"


class Folder:
    def __init__(self):
        self.names = {}  # as the running command sees them


class File:
    def __init__(self, content=b""):
        self.start = content  # before the first command
        self.content = content
        self.position = 0


def written(content, offset, data):
    return content[:offset].ljust(offset, b"\0") + data + content[offset + len(data):]


class Change:
    """Something done that is lost at a cut until each of `needs` was forced to disk."""

    choices = (WHOLE, ABSENT)

    def __init__(self, needs, words):
        self.needs, self.words = list(needs), words


class Names(Change):
    """Names that come to mean other things, all at once: (folder, name, what it means; None: nothing)."""

    def __init__(self, *entries):
        super().__init__((folder for folder, _, _ in entries), " and ".join(name for _, name, _ in entries))
        self.entries = entries

    def apply(self, disk, choice):
        for folder, name, meant in self.entries:
            names = disk.names.setdefault(folder, {})
            names.pop(name, None)
            if meant is not None:
                names[name] = meant


class Write(Change):
    choices = (WHOLE, ABSENT, HALF, ZEROS)

    def __init__(self, file, offset, data):
        super().__init__([file], f"{len(data)} bytes")
        self.file, self.offset = file, offset
        # Made once, as thousands of states hold them.
        self.data = {WHOLE: data, HALF: data[:len(data) // 2], ZEROS: bytes(len(data))}

    def apply(self, disk, choice):
        disk.contents[self.file] = written(disk.content(self.file), self.offset, self.data[choice])


class Truncate(Change):
    def __init__(self, file, size):
        super().__init__([file], f"cut to {size}")
        self.file, self.size = file, size

    def apply(self, disk, choice):
        disk.contents[self.file] = disk.content(self.file)[:self.size].ljust(self.size, b"\0")


class Disk:
    """What lies on disk: what folders and files were at the start, and some of the changes."""

    def __init__(self, names):
        self.names = {folder: dict(inner) for folder, inner in names.items()}
        self.contents = {}

    def content(self, file):
        return self.contents.get(file, file.start)

    def tree(self, folder, place=""):
        """(path, bytes of the file or None for a folder) of everything below."""
        for name, node in self.names.get(folder, {}).items():
            path = os.path.join(place, name)
            if isinstance(node, Folder):
                yield path, None
                yield from self.tree(node, path)
            else:
                yield path, self.content(node)


@dataclasses.dataclass
class State:
    """What can be found after a cut: the entries of Disk.tree below the parent of the watched folder."""
    tree: frozenset
    said: bytes  # the most that the commands had said on standard output by then
    place: str  # which change of the recording came last, and what of it all was lost

    def lay_out(self, folder):
        """Puts the watched folder below `folder`, where it must not be yet."""
        for path, content in sorted(self.tree, key=lambda entry: entry[0]):
            if content is None:
                os.mkdir(os.path.join(folder, path))
            else:
                with open(os.path.join(folder, path), "wb") as file:
                    file.write(content)


class Recording:
    """What commands do, one after the other, to the watched folder and to its name in its parent."""

    def __init__(self, watched):
        self.parent = os.path.realpath(os.path.dirname(watched))
        self.watched = os.path.join(self.parent, os.path.basename(watched))
        self.root = Folder()
        if os.path.exists(self.watched):
            self.root.names[os.path.basename(self.watched)] = self.read(self.watched)
        self.start = {folder: dict(folder.names) for folder in self.folders(self.root)}
        self.events = []  # changes, lists of what was forced (None: everything), and bytes that were said

    @classmethod
    def read(cls, path):
        if os.path.isdir(path):
            folder = Folder()
            folder.names = {name: cls.read(os.path.join(path, name)) for name in os.listdir(path)}
            return folder
        with open(path, "rb") as file:
            return File(file.read())

    @classmethod
    def folders(cls, folder):
        yield folder
        for node in folder.names.values():
            if isinstance(node, Folder):
                yield from cls.folders(node)

    def run(self, words, *options, environment=None):
        """Runs a command under strace, with more options of that; returns its end."""
        with tempfile.TemporaryDirectory() as own:
            trace, said = os.path.join(own, "trace"), os.path.join(os.path.realpath(own), "said")
            setting = [part for name, value in (environment or {}).items() for part in ("-E", f"{name}={value}")]
            with open(said, "wb") as output:
                done = subprocess.run(
                    ["strace", "-f", "-y", "-xx", "-s", "99999999", "-o", trace, "-e", "signal=none", "-e",
                     "trace=" + ",".join("?" + call for call in TRACED), *options, *setting, *words],
                    stdin=subprocess.DEVNULL, stdout=output, stderr=subprocess.PIPE)
            with open(trace, encoding="ascii") as file:
                for call, arguments, result in self.calls(file):
                    self.take(call, arguments, result, said)
        real = self.read(self.watched) if os.path.exists(self.watched) else None
        if self.plain(real) != self.plain(self.root.names.get(os.path.basename(self.watched))):
            raise RuntimeError("the folder is not what the recorded system calls make of it")
        return done

    @classmethod
    def plain(cls, node):
        if isinstance(node, Folder):
            return {name: cls.plain(inner) for name, inner in node.names.items()}
        return node and node.content

    @staticmethod
    def calls(lines):
        """(name, arguments, result) of the calls that succeeded, in the order of their ends."""
        begun = {}
        for line in lines:
            process, text = line.rstrip("\n").split(maxsplit=1)
            if text.endswith("<unfinished ...>"):
                begun[process] = text.removesuffix("<unfinished ...>")
                continue
            if resumed := re.match(r"<\.\.\. \w+ resumed>", text):
                text = begun.pop(process) + text[resumed.end():]
            # Every string is in hexadecimal, so that nothing in it can look like a part of the line.
            if made := re.match(r"(\w+)\((.*)\)\s+= (\d+)", text):
                yield made[1], [part.strip() for part in made[2].split(",")], int(made[3])

    @staticmethod
    def text(argument):
        """The bytes of a string, or of the path that strace puts behind a descriptor."""
        quoted = re.search(r'["<]((?:\\x[0-9a-f]{2})*)[">]', argument)
        return bytes.fromhex(quoted[1].replace("\\x", "")) if quoted else b""

    def path(self, *arguments):
        return os.path.normpath(os.path.join(os.getcwd(), *(os.fsdecode(self.text(part)) for part in arguments)))

    def find(self, path):
        """The file or folder at a path, or None where it is not watched or nothing is there."""
        node = self.root
        for name in [] if path == self.parent else os.path.relpath(path, self.parent).split(os.sep):
            node = node.names.get(name) if isinstance(node, Folder) else None
        return node

    def entry(self, path):
        """(folder, name) of a path that is watched, otherwise None."""
        if path != self.watched and not path.startswith(self.watched + os.sep):
            return None
        if not isinstance(folder := self.find(os.path.dirname(path)), Folder):
            raise RuntimeError(f"what holds {path} came to be in a way that is not recorded")
        return folder, os.path.basename(path)

    def name(self, *entries):
        self.events.append(Names(*entries))
        for folder, name, meant in entries:
            folder.names.pop(name, None)
            if meant is not None:
                folder.names[name] = meant

    def truncate(self, file, size):
        if len(file.content) != size:
            self.events.append(Truncate(file, size))
            file.content = file.content[:size].ljust(size, b"\0")

    def write(self, file, offset, data):
        self.events.append(Write(file, offset, data))
        file.content = written(file.content, offset, data)

    def take(self, call, arguments, result, said):
        if call in ("open", "creat"):
            self.open(self.path(arguments[0]), arguments[1] if call == "open" else "O_CREAT|O_TRUNC|O_WRONLY")
        elif call == "openat":
            self.open(self.path(*arguments[:2]), arguments[2])
        elif call in ("write", "pwrite64", "writev"):
            data = b"".join(self.text(part) for part in arguments[1:] if '"' in part)[:result]
            path = self.path(arguments[0])
            file = self.find(path)
            if path == said:
                self.events.append(data)
            elif isinstance(file, File):
                self.write(file, int(arguments[-1]) if call == "pwrite64" else file.position, data)
                file.position += 0 if call == "pwrite64" else len(data)
        elif call == "lseek":
            if isinstance(file := self.find(self.path(arguments[0])), File):
                file.position = result
        elif call == "ftruncate":
            if isinstance(file := self.find(self.path(arguments[0])), File):
                self.truncate(file, int(arguments[1]))
        elif call in ("fsync", "fdatasync"):
            if node := self.find(self.path(arguments[0])):
                self.events.append([node])
        elif call == "sync" or call == "syncfs" and self.find(self.path(arguments[0])):
            self.events.append([None])
        elif call in ("mkdir", "mkdirat"):
            if entry := self.entry(self.path(*arguments[:1 if call == "mkdir" else 2])):
                self.name((*entry, Folder()))
        elif call in ("unlink", "rmdir", "unlinkat"):
            if entry := self.entry(self.path(*arguments[:2 if call == "unlinkat" else 1])):
                self.name((*entry, None))
        elif call.startswith("rename"):
            self.rename(arguments if call != "rename" else ["", arguments[0], "", arguments[1]])

    def open(self, path, flags):
        entry, file = self.entry(path), self.find(path)
        if entry and file is None and "O_CREAT" in flags:
            self.name((*entry, File()))
        elif isinstance(file, File) and "O_RDONLY" not in flags:
            file.position = len(file.content) if "O_APPEND" in flags else 0
            if "O_TRUNC" in flags:
                self.truncate(file, 0)

    def rename(self, arguments):
        ends = self.path(*arguments[:2]), self.path(*arguments[2:4])
        (old, new), (moved, replaced) = map(self.entry, ends), map(self.find, ends)
        if new and not old:
            raise RuntimeError(f"something that was not recorded came to {ends[1]}")
        is_exchange = "RENAME_EXCHANGE" in arguments[-1]
        entries = [(*old, replaced if is_exchange else None)] if old else []
        if entries or new:
            self.name(*entries, *([(*new, moved)] if new else []))

    def states(self, most=4096, sampled=1000, seed=12):
        """How many states were made, and those that differ. At a point where there are more than `most`: all changes,
        none, each one alone missing in each way, and `sampled` of all others."""
        chance = random.Random(seed)
        count, found = 0, {}
        done, said, seen = [], b"", None
        for event in [b"", *self.events]:
            if isinstance(event, bytes):
                said += event
            elif isinstance(event, Change):
                done.append((event, list(event.needs)))
            else:
                for _, needs in done:
                    needs[:] = [node for node in needs if event[0] not in (None, node)]
            now = [bool(needs) for _, needs in done], said
            if now == seen:
                continue
            seen = now
            for choices in self.combinations([change.choices if needs else (WHOLE,) for change, needs in done], most,
                                             sampled, chance):
                count += 1
                changes = [(change, choice) for (change, _), choice in zip(done, choices)]
                tree = self.after(changes)
                if tree not in found or len(found[tree].said) < len(said):
                    lost = [f"{change.words} {choice}" for change, choice in changes if choice != WHOLE]
                    found[tree] = State(tree, said, f"change {len(done)}, lost: {', '.join(lost)}")
        return count, list(found.values())

    @staticmethod
    def combinations(choices, most, sampled, chance):
        if math.prod(len(some) for some in choices) <= most:
            return itertools.product(*choices)
        whole = tuple(some[0] for some in choices)
        missing = [whole[:i] + (choice,) + whole[i + 1:] for i, some in enumerate(choices) for choice in some[1:]]
        none = tuple(some[1] if len(some) > 1 else some[0] for some in choices)
        return [whole, none, *missing, *(tuple(map(chance.choice, choices)) for _ in range(sampled))]

    def after(self, changes):
        disk = Disk(self.start)
        for change, choice in changes:
            if choice != ABSENT:
                change.apply(disk, choice)
        return frozenset(disk.tree(self.root))

    def before(self):
        """What lay there before the first command, as in State.tree."""
        return self.after([])
