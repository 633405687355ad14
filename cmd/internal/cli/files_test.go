package cli

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// touched is a command line that reads files and can write some: every one of both, by its flag.
type touched struct {
	line  string
	reads []string          // that stand on the line, or in a list that does
	in    map[string]string // flags that name what is read
	out   []string          // flags that name what is written
}

var touching = []touched{
	{"measure lamp-3.csv lamp-4.csv", []string{"lamp-3.csv", "lamp-4.csv"}, nil, []string{"csv", "report"}},
	{"measure - ", []string{"-"}, nil, []string{"csv", "report"}},
	{"reconcile lamp.toml lamp-3.csv", []string{"lamp.toml", "lamp-3.csv"}, map[string]string{"baseline": "base.json"}, []string{"csv", "report", "ledger"}},
	{"retune lamp.toml lamp-3.csv", []string{"lamp.toml", "lamp-3.csv"}, map[string]string{"baseline": "base.json", "stock": "drawer.csv"}, []string{"csv", "report"}},
	{"predict lamp.toml", []string{"lamp.toml"}, nil, []string{"csv", "report"}},
	{"lot lamp.toml lot/manifest.csv", []string{"lamp.toml", "lot/manifest.csv", "lot/lamp-07.csv"}, nil, []string{"csv", "report", "ledger"}},
	{"lot lamp.toml lot", []string{"lot/lamp-07.csv"}, nil, []string{"csv", "report", "ledger"}},
	{"lot lamp.toml lot/manifest.csv --ledger postgres://127.0.0.1:1/x", []string{"lamp.toml", "lot/lamp-07.csv"}, nil, []string{"spool"}},
	{"lot lamp.toml", []string{"lamp.toml"}, map[string]string{"from": "harbour.db"}, []string{"csv", "report"}},
	{"reconcile lamp.toml lamp-3.csv --ledger postgres://127.0.0.1:1/x", []string{"lamp.toml", "lamp-3.csv"}, nil, []string{"spool"}},
	{"ledger found x --cause nothing", nil, nil, []string{"ledger"}},
	{"ledger show harbour.db x", []string{"harbour.db"}, nil, []string{"report"}},
	{"ledger odds", nil, map[string]string{"design": "lamp.toml", "ledger": "harbour.db"}, nil},
	{"ledger harbour.db", []string{"harbour.db", "harbour.db-wal"}, nil, []string{"csv"}},
	{"listen -", []string{"-"}, map[string]string{"design": "lamp.toml"}, []string{"csv", "report", "save"}},
	{"listen", nil, map[string]string{"simulate": "lamp.toml"}, nil},
}

// noFile are commands and flags whose words name files and that belong to none of the above.
var noFile = []string{"demo --csv", "demo --report", "demo --write", "man --write"}

// A flag that names a file is known to the tests below, so that none is forgotten.
func TestEveryFileFlagIsTested(t *testing.T) {
	s, _, _ := buffered("")
	var all []*cobra.Command
	for _, c := range newRoot(s).Commands() {
		all = append(append(all, c), c.Commands()...)
	}
	for _, c := range all {
		path := strings.TrimPrefix(c.CommandPath(), "offbeat ")
		c.Flags().VisitAll(func(f *pflag.Flag) {
			name, _ := pflag.UnquoteUsage(f)
			if !slices.ContainsFunc([]string{"FILE", "FOLDER", "DESIGN", "LEDGER"}, func(w string) bool { return strings.HasPrefix(name, w) }) || slices.Contains(noFile, path+" --"+f.Name) {
				return
			}
			for _, w := range touching {
				if strings.HasPrefix(w.line+" ", path+" ") && (slices.Contains(w.out, f.Name) || w.in[f.Name] != "") {
					return
				}
			}
			t.Errorf("offbeat %s --%s names a file; say in this test whether it is read or written", path, f.Name)
		})
	}
}

// stamp is how a file stands in its folder: whoever writes to it leaves another.
type stamp struct {
	whole    string
	mode     fs.FileMode
	size     int64
	modified time.Time
}

// digested are files' digests by their stamps: to read the whole folder after every line takes most of a test's time.
var digested = map[stamp][sha256.Size]byte{}

// tree is what a folder holds: names with the digests of their content.
func tree(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	err = filepath.WalkDir(".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		i, err := os.Stat(name) // of what a link leads to
		if err != nil {
			return err
		}
		s := stamp{filepath.Join(dir, name), e.Type() | i.Mode(), i.Size(), i.ModTime()}
		digest, known := digested[s]
		if !known {
			content, err := os.ReadFile(name)
			if err != nil {
				return err
			}
			digest = sha256.Sum256(content)
			digested[s] = digest
		}
		fmt.Fprintf(&b, "%s %v %x\n", name, s.mode, digest)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// aliases are other names for a file.
func aliases(t *testing.T, name string) []string {
	t.Helper()
	whole, err := filepath.Abs(name)
	if err != nil {
		t.Fatal(err)
	}
	all := []string{name, "./" + name, whole, filepath.Join("lot", "..", name)}
	if err := os.Symlink(whole, whole+".link"); err == nil {
		all = append(all, name+".link")
	}
	if err := os.Link(name, name+".hard"); err == nil {
		all = append(all, name+".hard")
	}
	return all
}

// Whatever a command reads, by whatever name, it writes nothing over, neither by a flag nor by a redirection, and it
// touches nothing at all before it says so.
func TestNothingReadIsWrittenOver(t *testing.T) {
	bench(t)
	for name, text := range map[string]string{"base.json": "{}", "drawer.csv": "value\n10k\n", "harbour.db": "", "harbour.db-wal": ""} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	names := map[string][]string{}
	for _, c := range touching {
		line := strings.Fields(c.line)
		reads := slices.Clone(c.reads)
		for flag, name := range c.in {
			line = append(line, "--"+flag, name)
			reads = append(reads, name)
		}
		for _, read := range reads {
			stdin := read
			if read == "-" {
				read, stdin = "lamp-4.csv", "lamp-4.csv"
			}
			if names[read] == nil {
				names[read] = aliases(t, read)
			}
			before := tree(t)
			refused := func(what string, args []string, redirect bool) {
				t.Helper()
				s, out, stderr := buffered("")
				in, err := os.Open(stdin)
				if err != nil {
					t.Fatal(err)
				}
				defer in.Close()
				s.In = in
				if redirect {
					f, err := os.OpenFile(read, os.O_WRONLY|os.O_APPEND, 0)
					if err != nil {
						t.Fatal(err)
					}
					defer f.Close()
					s.Out = f
				}
				status := Main(args, s)
				if status != Usage || out.Len() > 0 || !strings.Contains(stderr.String(), what+" would write over ") {
					t.Errorf("offbeat %s: status %d, %s%.100s", strings.Join(args, " "), status, stderr, out)
				}
				if after := tree(t); after != before {
					t.Fatalf("offbeat %s: %s", strings.Join(args, " "), difference(before, after))
				}
			}
			for _, flag := range c.out {
				for _, name := range names[read] {
					what := map[string]string{"save": "the record of the session"}[flag]
					refused(what+map[bool]string{true: "--" + flag}[what == ""], append(slices.Clone(line), "--"+flag, name), false)
				}
			}
			refused("standard output", line, true)
		}
	}
}

// Two results never go into one file, whether it is there or not.
func TestOneFileTakesOneResult(t *testing.T) {
	bench(t)
	for _, c := range touching {
		if strings.HasPrefix(c.line, "ledger") {
			continue
		}
		line := strings.Fields(c.line)
		for flag, name := range c.in {
			line = append(line, "--"+flag, name)
		}
		for i, a := range c.out {
			for _, b := range c.out[:i] {
				for _, name := range []string{"new.x", "README.md"} {
					before := tree(t)
					args := append(slices.Clone(line), "--"+a, name, "--"+b, "./"+name)
					_, stderr, status := run(t, "", args...)
					if status != Usage || !strings.Contains(stderr, "both want") || tree(t) != before {
						t.Errorf("offbeat %s: status %d, %s", strings.Join(args, " "), status, stderr)
					}
				}
			}
		}
	}
	out, err := os.Create("out")
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	s, _, stderr := buffered("")
	s.Out = out
	if status := Main([]string{"predict", "lamp.toml", "--csv", "out"}, s); status != Usage || !strings.Contains(stderr.String(), "standard output and --csv both want out") {
		t.Errorf("status %d, %s", status, stderr)
	}
}

// What the user has made of the demo's files is not written over, and nothing is written beside it.
func TestDemoKeepsTheUsersFiles(t *testing.T) {
	t.Chdir(t.TempDir())
	if _, stderr, status := run(t, "", "demo", "--write", "."); status != Done {
		t.Fatal(stderr)
	}
	first := tree(t)
	if _, stderr, status := run(t, "", "demo", "--write", "."); status != Done || tree(t) != first {
		t.Errorf("a second time: status %d, %s", status, stderr)
	}
	if err := os.WriteFile("lamp.toml", []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove("bell.csv"); err != nil {
		t.Fatal(err)
	}
	before := tree(t)
	if _, stderr, status := run(t, "", "demo", "--write", "."); status != Failed || !strings.Contains(stderr, "lamp.toml is there already") || tree(t) != before {
		t.Errorf("status %d, %s", status, stderr)
	}
}
