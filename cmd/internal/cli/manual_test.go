package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/pflag"

	"offbeat/compare/cause"
)

func TestExplain(t *testing.T) {
	for _, row := range []struct {
		args   string
		status int
		want   []string
	}{
		{"explain", Done, []string{"guard band", "leakage", "prior odds"}},
		{"explain guard band", Done, []string{"guard band", "ILAC-G8"}},
		{"explain Duty-Cycle", Done, []string{"duty factor", "IEEE 181"}},
		{"explain leak", Done, []string{"leakage", "electrolytic"}},
		{"explain gaurd band", Usage, []string{"did you mean guard band?"}},
		{"explain lighthouse", Usage, []string{"lists all words"}},
	} {
		stdout, stderr, status := run(t, "", strings.Fields(row.args)...)
		for _, w := range row.want {
			if !strings.Contains(stdout+stderr, w) || status != row.status {
				t.Errorf("%s: status %d, want %d and %q:\n%s%s", row.args, status, row.status, w, stdout, stderr)
			}
		}
	}
	// Every default of the odds stands in the one table, with its number.
	stdout, _, _ := run(t, "", "explain", "odds")
	rows := 0
	for _, l := range strings.Split(stdout, "\n") {
		f := strings.Fields(l)
		for _, d := range cause.Defaults() {
			if len(f) > 2 && f[0] == d.Key && (d.Class == "" || f[1] == d.Class) {
				rows++
				break
			}
		}
	}
	if rows != len(cause.Defaults()) {
		t.Errorf("%d rows of odds, want %d", rows, len(cause.Defaults()))
	}
}

// Each command and topic has a page, which names every flag and holds nothing that troff would take for its own.
func TestManual(t *testing.T) {
	dir := t.TempDir()
	if _, stderr, status := run(t, "", "man", "--write", dir); status != Done {
		t.Fatalf("status %d: %s", status, stderr)
	}
	s, _, _ := run(t, "", "man")
	if !strings.HasPrefix(s, ".TH OFFBEAT 1\n") || !strings.Contains(s, "offbeat\\-reconcile(1)") {
		t.Errorf("the program's page begins %.80q", s)
	}
	st, _, _ := buffered("")
	root := newRoot(st)
	for _, c := range documented(root) {
		b, err := os.ReadFile(filepath.Join(dir, manName(c)+".1"))
		if err != nil {
			t.Error(err)
			continue
		}
		text := string(b)
		for _, l := range strings.Split(text, "\n") {
			if strings.HasPrefix(l, ".") {
				if name, _, _ := strings.Cut(l[1:], " "); !strings.Contains(" TH SH PP TP RS RE nf fi ", " "+name+" ") {
					t.Errorf("%s: troff would obey %q", manName(c), l)
				}
			}
		}
		c.NonInheritedFlags().VisitAll(func(f *pflag.Flag) {
			if !f.Hidden && !strings.Contains(text, escaped("--"+f.Name)) {
				t.Errorf("%s does not mention --%s", manName(c), f.Name)
			}
		})
	}
	if _, stderr, status := run(t, "", "man", "--write", dir, "reconcile"); status != Usage || stderr == "" {
		t.Errorf("a page and a folder: status %d, %q", status, stderr)
	}
	if _, _, status := run(t, "", "man", "lighthouse"); status != Usage {
		t.Errorf("a page that is not there: status %d", status)
	}
}

func TestEscaped(t *testing.T) {
	for in, want := range map[string]string{".5 V": `\&.5 V`, "'quoted'": `\&'quoted'`, `a\b --c`: `a\eb \-\-c`} {
		if got := escaped(in); got != want {
			t.Errorf("escaped(%q) = %q, want %q", in, got, want)
		}
	}
}

// What the shell is offered.
func TestCompletion(t *testing.T) {
	t.Chdir(filepath.Join(here, "../demo/harbour"))
	for args, want := range map[string]string{
		"reconcile --circuit ast":                        "astable\nastable-diode\nastable-output\n:4\n",
		"predict --family c":                             "cmos\n:4\n",
		"explain guar":                                   "guard band\n:4\n",
		"reconcile --report ":                            "html\n:8\n",
		"demo be":                                        "bell\n:4\n",
		"help wiring astable-":                           "astable-diode\nastable-output\n:4\n",
		"man ret":                                        "retune\n:4\n",
		"completion z":                                   "zsh\n:4\n",
		"ledger found x --cause disc":                    "discharge\n:4\n",
		"reconcile --circuit astable --part R":           "R1=\nR2=\n:6\n",
		"reconcile breakwater.toml --reading RV":         "RV1=\n:6\n",
		"reconcile breakwater.toml --look inspection@D1": "inspection D1 faulty\ninspection D1 sound\n:4\n",
		"reconcile lamp.toml --with C1@=":                "C1 =\n:6\n",
		"measure lamp-5-probed.csv.gz --channel cap=":    "cap=Output\ncap=Capacitor\n:4\n",
		"measure nowhere.csv --channel ":                 ":4\n",
		"explain tel":                                    "tells\n:4\n",
	} {
		f := strings.Split(args, " ")
		for i := range f {
			f[i] = strings.ReplaceAll(f[i], "@", " ")
		}
		stdout, _, status := run(t, "", append([]string{"__complete"}, f...)...)
		if stdout != want || status != Done {
			t.Errorf("%s: %q, want %q", args, stdout, want)
		}
	}
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		if stdout, _, status := run(t, "", "completion", shell); status != Done || !strings.Contains(stdout, "__complete") {
			t.Errorf("completion %s: status %d, %d bytes", shell, status, len(stdout))
		}
	}
}

func TestVersion(t *testing.T) {
	if stdout, _, status := run(t, "", "--version"); status != Done || !strings.HasPrefix(stdout, "offbeat ") || strings.TrimSpace(stdout) == "offbeat" {
		t.Errorf("status %d, %q", status, stdout)
	}
}
