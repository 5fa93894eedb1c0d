"""What `make install` and `make deb` put where, judged by the tools that will read it there: systemd's own, bash, dpkg
and, when it is there, lintian. Nothing is installed on this machine.
"""
import os
import pathlib
import re
import shutil
import stat
import subprocess
import tempfile
import unittest

import rig

EXPOSURE_BELOW = 2.0  # of 10, as `systemd-analyze security` counts
BUILD = pathlib.Path(rig.TRIVETD).resolve().parent
PROGRAMS = {"sbin/trivetd", "bin/trivet"}
FILES = {
    "lib/systemd/system/trivetd.service", "lib/sysusers.d/trivet.conf", "lib/tmpfiles.d/trivet.conf",
    "lib/udev/rules.d/60-trivet.rules", "share/bash-completion/completions/trivet",
    "share/bash-completion/completions/trivetd", "share/doc/trivet/LICENSE", "share/doc/trivet/README.md",
    "share/doc/trivet/examples/harbour-lane.yaml", "share/man/man1/trivet.1", "share/man/man5/trivet-plan.5",
    "share/man/man8/trivetd.8"}


def run(*command, code=0, **how):
    done = subprocess.run([str(word) for word in command], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                          stdin=subprocess.DEVNULL, timeout=120, **how)
    if done.returncode != code:
        raise AssertionError(f"{command} ended with {done.returncode}:\n{done.stdout}")
    return done.stdout


def install(destdir, prefix):
    """Of what is built already: neither this nor anything below compiles."""
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("MAKE", "MFLAGS"))}
    run("make", "-C", rig.ROOT, "install-files", f"DESTDIR={destdir}", f"PREFIX={prefix}", f"INSTALL_BUILD={BUILD}",
        env=clean)


def needs(program):
    return unittest.skipUnless(shutil.which(program), f"{program} is not installed here")


def temporary(case):
    directory = tempfile.TemporaryDirectory(prefix="trivet-install-")
    case.addClassCleanup(directory.cleanup)
    os.chmod(directory.name, 0o755)
    return pathlib.Path(directory.name)


def settings(unit):
    """Every setting of a unit, as [(name, value), ...]."""
    return re.findall(r"^(\w+)=(.*)$", unit.read_text(encoding="utf-8"), re.M)


class Installed(unittest.TestCase):
    """PREFIX=/usr below a DESTDIR, as a package is made."""

    @classmethod
    def setUpClass(cls):
        cls.root = temporary(cls)
        install(cls.root, "/usr")
        cls.usr = cls.root / "usr"
        cls.unit = cls.usr / "lib/systemd/system/trivetd.service"


class Files(Installed):
    def test_everything_is_where_it_is_looked_for_and_nothing_else(self):
        there = {str(path.relative_to(self.usr)) for path in self.root.rglob("*") if not path.is_dir()}
        pages = {f"share/doc/trivet/{page.name}" for kind in ("*.md", "*.png") for page in (rig.ROOT / "docs").glob(kind)}
        plans = {f"share/doc/trivet/examples/{plan.name}" for plan in (rig.ROOT / "config").glob("*.yaml")}
        profiles = {f"share/trivet/profiles/{profile.name}" for profile in (rig.ROOT / "config/profiles").glob("*.yaml")}
        self.assertEqual(there, PROGRAMS | FILES | pages | plans | profiles)

    def test_programs_may_be_run_and_nothing_else(self):
        for path in self.root.rglob("*"):
            if path.is_file() and not path.is_symlink():
                program = str(path.relative_to(self.usr)) in PROGRAMS
                with self.subTest(file=str(path)):
                    self.assertEqual(oct(stat.S_IMODE(path.stat().st_mode)), oct(0o755 if program else 0o644))

    def test_installed_program_runs(self):
        self.assertRegex(run(self.usr / "sbin/trivetd", "--version"), r"^trivetd \d")

    def test_installed_command_finds_the_profiles_beside_it(self):
        self.assertIn("food-code-2022/roast", run(self.usr / "bin/trivet", "limits"))

    def test_pages_that_readme_links_to_are_beside_it(self):
        readme = self.usr / "share/doc/trivet/README.md"
        for link in re.findall(r"\]\(([^):#]+)[^):]*\)", readme.read_text(encoding="utf-8")):
            if link != "DEVELOPERS.md":
                with self.subTest(link=link):
                    self.assertTrue((readme.parent / link).exists())

    def test_example_plan_is_in_order_and_keeps_to_the_units_places(self):
        plan = self.usr / "share/doc/trivet/examples/harbour-lane.yaml"
        self.assertIn("is in order", run(rig.TRIVETD, "--check", plan))
        text = plan.read_text(encoding="utf-8")
        unit = dict(settings(self.unit))
        self.assertIn(f"  directory: /var/lib/{unit['StateDirectory']}\n", text)
        usual = re.search(r"(/run/\S+)\)", run(rig.TRIVET, "help"))[1]
        self.assertEqual(pathlib.Path(usual).parent, pathlib.Path("/run") / unit["RuntimeDirectory"])
        self.assertIn(f"  socket: {usual}\n", text)


class Unit(Installed):
    def test_paths_follow_the_prefix(self):
        other = temporary(type(self))
        install(other, "/opt/kitchen")
        for root, prefix in ((self.root, "/usr"), (other, "/opt/kitchen")):
            unit = root / prefix[1:] / "lib/systemd/system/trivetd.service"
            starts = [value.split()[0] for name, value in settings(unit) if name.startswith("ExecStart")]
            self.assertEqual(starts, [f"{prefix}/sbin/trivetd"] * 2)
            self.assertNotIn("@SBINDIR@", unit.read_text(encoding="utf-8"))

    def test_starts_only_with_a_plan_and_checks_it_first(self):
        unit = dict(settings(self.unit))
        plan = unit["ConditionPathExists"]
        self.assertTrue(unit["ExecStartPre"].endswith(f"--check {plan}"))
        self.assertTrue(unit["ExecStart"].endswith(f" {plan}"))
        self.assertEqual((unit["Type"], unit["Restart"], unit["LimitNOFILE"]), ("notify", "always", "1024"))
        self.assertGreaterEqual(int(unit["WatchdogSec"]), 10)

    def test_needs_no_program_that_a_small_system_lacks(self):
        programs = {value.lstrip("-").split()[0] for name, value in settings(self.unit) if name.startswith("Exec")}
        others = {program for program in programs if not program.endswith("/trivetd")}
        self.assertTrue(others)
        for program in others:
            owner = run("dpkg-query", "-S", program).splitlines()[-1].split(":")[0]
            self.assertEqual(run("dpkg-query", "-W", "-f", "${Essential}", owner), "yes", program)

    @needs("systemd-analyze")
    def test_systemd_finds_no_fault(self):
        here = temporary(type(self))
        install("", here)  # systemd looks whether the program is there
        said = run("systemd-analyze", "verify", "--man=no", here / "lib/systemd/system/trivetd.service")
        self.assertNotIn("trivetd.service", said)

    @needs("systemd-analyze")
    def test_exposure_is_low(self):
        said = run("systemd-analyze", "security", "--no-pager", "--offline=yes", self.unit)
        exposure = float(re.search(r"exposure level for trivetd\.service: ([\d.]+)", said)[1])
        self.assertLess(exposure, EXPOSURE_BELOW, said)


class System(Installed):
    """The user and the directories, made below another root by systemd's own tools."""

    @needs("systemd-sysusers")
    @unittest.skipUnless(os.geteuid() == 0, "only root may give files to another user")
    def test_user_may_open_serial_ports_and_owns_the_records(self):
        (self.root / "etc").mkdir()
        (self.root / "etc/group").write_text("dialout:x:20:\n", encoding="ascii")
        run("systemd-sysusers", f"--root={self.root}")
        users = dict(line.split(":", 1) for line in (self.root / "etc/passwd").read_text().splitlines())
        _, uid, gid, _, home, shell = users["trivet"].split(":")
        self.assertEqual((home, shell), ("/var/lib/trivet", "/usr/sbin/nologin"))
        self.assertIn("dialout:x:20:trivet", (self.root / "etc/group").read_text().splitlines())
        run("systemd-tmpfiles", f"--root={self.root}", "--create", "trivet.conf")
        records, config = (self.root / "var/lib/trivet").stat(), (self.root / "etc/trivet").stat()
        self.assertEqual((oct(stat.S_IMODE(records.st_mode)), records.st_uid, records.st_gid),
                         (oct(0o750), int(uid), int(gid)))
        self.assertEqual((oct(stat.S_IMODE(config.st_mode)), config.st_uid), (oct(0o755), 0))

    def test_unit_runs_as_that_user(self):
        unit = dict(settings(self.unit))
        self.assertEqual((unit["User"], unit["Group"], unit["SupplementaryGroups"]), ("trivet", "trivet", "dialout"))

    def test_rules_of_udev_are_well_formed(self):
        text = (self.usr / "lib/udev/rules.d/60-trivet.rules").read_text(encoding="utf-8")
        rules = [line for line in text.replace("\\\n", "").splitlines() if line and not line.startswith("#")]
        key = r'(ACTION|KERNEL|SUBSYSTEMS?|ATTRS\{\w+\}|ENV\{\.?\w+\}|IMPORT\{builtin\}|SYMLINK|GOTO|LABEL)(==|!=|\+?=)"[^"]+"'
        for rule in rules:
            with self.subTest(rule=rule):
                self.assertRegex(rule, rf"^{key}(, {key})*$")
        self.assertEqual(set(re.findall(r'GOTO="(\w+)"', text)), set(re.findall(r'LABEL="(\w+)"', text)))
        self.assertTrue(all(name.startswith("trivet/") for name in re.findall(r'SYMLINK\+="([^"]+)"', text)))


ADAPTER = """\
P: /devices/pci0000:00/0000:00:14.0
E: SUBSYSTEM=pci
E: PCI_SLOT_NAME=0000:00:14.0

P: /devices/pci0000:00/0000:00:14.0/usb1
E: SUBSYSTEM=usb
E: DEVTYPE=usb_device

P: /devices/pci0000:00/0000:00:14.0/usb1/1-3
E: SUBSYSTEM=usb
E: DEVTYPE=usb_device
A: idVendor=1234
A: idProduct=5678
A: manufacturer=Maker
A: product=Serial adapter
{serial}
P: /devices/pci0000:00/0000:00:14.0/usb1/1-3/1-3:1.{interface}
E: SUBSYSTEM=usb
E: DEVTYPE=usb_interface
A: bInterfaceNumber=0{interface}
A: bInterfaceClass=ff
A: bInterfaceSubClass=ff
A: bInterfaceProtocol=ff

P: /devices/pci0000:00/0000:00:14.0/usb1/1-3/1-3:1.{interface}/ttyUSB7
E: SUBSYSTEM=usb-serial
A: port_number={port}

P: /devices/pci0000:00/0000:00:14.0/usb1/1-3/1-3:1.{interface}/ttyUSB7/tty/ttyUSB7
N: ttyUSB7
E: SUBSYSTEM=tty
E: DEVNAME=/dev/ttyUSB7
E: MAJOR=188
E: MINOR=7
"""

# A machine of its own as far as udev looks and writes: /run, /etc/udev and /dev are empty.
APART = """\
set -e
mount -t tmpfs t /mnt && cp -a /dev/null /dev/urandom /mnt && mount --move /mnt /dev
mkdir /dev/pts && mount -t devpts -o newinstance,ptmxmode=666 p /dev/pts && ln -s pts/ptmx /dev/ptmx
mount -t tmpfs t /run
mount -t tmpfs t /etc/udev && mkdir /etc/udev/rules.d && cp "$1" /etc/udev/rules.d
exec umockdev-run -d "$2" -- udevadm test --action=add "$3"
"""


@needs("umockdev-run")
@needs("udevadm")
class Adapters(Installed):
    """What the rule calls an adapter, by udev itself, on an adapter that another program makes up."""

    def setUp(self):
        if subprocess.run(["unshare", "--mount", "true"], stderr=subprocess.DEVNULL).returncode != 0:
            self.skipTest("this user may not mount")

    def names(self, serial="", interface=0, port=0):
        path = self.root / "adapter.umockdev"
        path.write_text(ADAPTER.format(serial=f"A: serial={serial}\n" if serial else "", interface=interface, port=port),
                        encoding="ascii")
        device = re.findall(r"^P: (.*)$", path.read_text(encoding="ascii"), re.M)[-1]
        said = run("unshare", "--mount", "sh", "-c", APART, "sh", self.usr / "lib/udev/rules.d/60-trivet.rules", path,
                   "/sys" + device)
        links = re.search(r"^DEVLINKS=(.*)$", said, re.M)
        return sorted(name for name in (links[1].split() if links else []) if name.startswith("/dev/trivet/"))

    def test_adapter_with_a_serial_number_is_named_by_it(self):
        self.assertEqual(self.names(serial="AB01CD23"), ["/dev/trivet/AB01CD23-00"])

    def test_ports_of_one_adapter_have_names_of_their_own(self):
        self.assertEqual(self.names(serial="AB01CD23", interface=1), ["/dev/trivet/AB01CD23-01"])
        self.assertEqual(self.names(serial="AB01CD23", port=1), ["/dev/trivet/AB01CD23-00.1"])

    def test_adapter_without_a_serial_number_is_named_by_its_socket(self):
        self.assertEqual(self.names(), ["/dev/trivet/at-pci-0000:00:14.0-usb-0:3:1.0-00"])


class Completion(Installed):
    def complete(self, *words):
        """What bash would offer for the last of the words."""
        script = ('source "$1"; shift; COMP_WORDS=("$@"); COMP_CWORD=$(($# - 1)); '
                  'f=$(complete -p "${1##*/}"); f=${f#*-F }; ${f%% *} "$1"; printf "%s\\n" "${COMPREPLY[@]}"')
        said = run("bash", "--norc", "-c", script, "bash", self.usr / "share/bash-completion/completions/trivet", *words)
        return said.split()

    def trivet(self, *words):
        return self.complete(rig.TRIVET, *words)

    def test_verbs_are_those_of_the_help(self):
        verbs = re.findall(r"^  ([a-z][a-z-]*)  ", run(rig.TRIVET, "help"), re.M)
        self.assertGreater(len(verbs), 10)
        self.assertEqual(self.trivet(""), verbs + ["help"])
        self.assertEqual(self.trivet("help", ""), verbs + ["help"])
        self.assertEqual(self.trivet("--json", "--socket", "x", "bo"), ["boiling-point"])

    def test_options_are_those_that_the_verb_takes(self):
        for verb in self.trivet(""):
            for option in self.trivet(verb, "--") if verb != "help" else []:
                with self.subTest(verb=verb, option=option):
                    # An unknown option is refused before anything else is looked at.
                    said = subprocess.run([rig.TRIVET, verb, option, "1", "--help"], stdin=subprocess.DEVNULL, timeout=30,
                                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True).stdout
                    self.assertNotRegex(said, r"not an option|no option")
        self.assertIn("--disposition", self.trivet("act", "--"))
        self.assertIn("--cold-junction", self.trivet("convert", "-"))

    def test_values_are_those_of_the_help(self):
        self.assertEqual(self.trivet("export", ""), ["readings", "batches", "deviations", "actions", "entries", "decisions",
                                                    "people", "calibrations", "switches", "records"])
        self.assertEqual(self.trivet("end", "4", "--outcome", "s"), ["served", "stored"])
        self.assertEqual(self.trivet("end", "--who", "AB", "4", ""), ["served", "stored", "discarded"])
        self.assertEqual(self.trivet("decide", "4", ""), ["accept", "reject"])
        self.assertEqual(self.trivet("act", "2", "--disposition", "us"), ["use", "use-at-once"])
        self.assertEqual(self.trivet("begin", ""), [], "ids are the plan's")

    def test_published_limits_are_those_that_are_listed(self):
        self.assertEqual(self.trivet("limits", "food-code-2022/roa"), ["food-code-2022/roast"])
        self.assertEqual(self.trivet("judge", "--limit", "uk-cook-chill/ch"), ["uk-cook-chill/chilling"])
        self.assertEqual(self.trivet("limits", "--for-plan", "canada-2016/fr"), ["canada-2016/frozen"])
        trace = f"{rig.ROOT}/config/harb"
        self.assertEqual(self.trivet("judge", "--accept-unverified", trace), [f"{rig.ROOT}/config/harbour-lane.yaml"])

    def test_daemon_is_completed_from_its_own_help(self):
        options = re.findall(r"^  (--[a-z]+)", run(rig.TRIVETD, "--help"), re.M)
        self.assertEqual(sorted(self.complete(rig.TRIVETD, "--")), sorted(options))
        self.assertEqual(self.complete(rig.TRIVETD, f"{rig.ROOT}/config/harb"), [f"{rig.ROOT}/config/harbour-lane.yaml"])


@needs("dpkg-shlibdeps")
class Package(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.place = temporary(cls)
        install(cls.place / "root", "/usr")
        run(rig.ROOT / "config/debian/assemble", cls.place)
        (cls.package,) = cls.place.glob("*.deb")

    def field(self, name):
        return run("dpkg-deb", "--field", self.package, name).strip()

    def test_version_is_that_of_the_programs(self):
        self.assertEqual(run(rig.TRIVETD, "--version"), f"trivetd {self.field('Version')}\n")

    def test_libraries_are_depended_upon(self):
        # The packages of the libraries that the Makefile links with, by their names in Debian 12.
        for library in ("libc6", "libmodbus5", "libsqlite3-0", "libmicrohttpd12", "libyaml-0-2", "libjansson4",
                        "libsodium23", "zlib1g", "systemd"):
            self.assertRegex(self.field("Depends"), rf"(^|, ){re.escape(library)}( |,|$)")

    def test_contents_belong_to_root_and_are_compressed_where_debian_wants_it(self):
        listing = run("dpkg-deb", "--contents", self.package).splitlines()
        self.assertTrue(all(line.split()[1] == "root/root" for line in listing))
        names = {line.split()[5] for line in listing}
        for name in ("usr/sbin/trivetd", "usr/lib/systemd/system/trivetd.service", "usr/share/man/man8/trivetd.8.gz",
                     "usr/share/doc/trivet/copyright", "usr/share/doc/trivet/changelog.gz"):
            self.assertIn(f"./{name}", names)
        self.assertFalse([name for name in names if name.startswith(("./etc", "./var", "./run"))],
                         "the plan and the records are the kitchen's, not the package's")

    def test_same_input_gives_the_same_bytes(self):
        again = temporary(type(self))
        install(again / "root", "/usr")
        run(rig.ROOT / "config/debian/assemble", again)
        self.assertEqual((again / self.package.name).read_bytes(), self.package.read_bytes())

    def test_scripts_of_the_package_are_good_shell_and_leave_the_records(self):
        control = self.place / "control"
        run("dpkg-deb", "--control", self.package, control)
        for name in ("postinst", "prerm", "postrm"):
            with self.subTest(script=name):
                run("sh", "-n", control / name)
                self.assertEqual(oct(stat.S_IMODE((control / name).stat().st_mode)), oct(0o755))
                self.assertNotRegex((control / name).read_text(encoding="utf-8"), r"\brm -|\bdeluser\b|\buserdel\b")

    @needs("lintian")
    def test_lintian_finds_nothing(self):
        run("lintian", "--fail-on", "error,warning", "--suppress-tags", "initial-upload-closes-no-bugs", self.package)


if __name__ == "__main__":
    unittest.main(verbosity=1)
