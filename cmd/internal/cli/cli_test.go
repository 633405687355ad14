package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"offbeat/acquire"
	"offbeat/cmd/internal/designfile"
	"offbeat/compare/reconcile"
)

func TestStatus(t *testing.T) {
	for _, c := range []struct {
		err  error
		want int
	}{
		{nil, Done},
		{verdictError{"fail"}, OffTarget},
		{verdictError{"undecided"}, Undecided},
		{usagef("no"), Usage},
		{fmt.Errorf("in: %w", usagef("no")), Usage},
		{&designfile.Error{Flag: true}, Usage},
		{&designfile.Error{}, Failed},
		{&acquire.Error{Err: acquire.ErrEmpty}, Failed},
		{&fs.PathError{Err: fs.ErrNotExist}, Failed},
		{io.ErrShortWrite, Failed},
		{errors.New("anything else"), Failed},
	} {
		if got := Status(c.err); got != c.want {
			t.Errorf("%v: status %d, want %d", c.err, got, c.want)
		}
	}
}

// execute runs one command alone and returns what it would have done.
func execute(t *testing.T, c *cobra.Command, args ...string) error {
	t.Helper()
	c.SetArgs(args)
	c.SilenceErrors, c.SilenceUsage = true, true
	return c.Execute()
}

func TestReconcileFlags(t *testing.T) {
	s, _, _ := buffered("")
	var got reconcileOptions
	c := newReconcile(s, func(o *reconcileOptions) error { got = *o; return nil })
	err := execute(t, c, "--circuit", "astable", "--part", "R1=10k:1%", "--part", "R2=47k", "--supply", "5V", "--target", "frequency=138:3%", "--reading", "R2=47k:1%",
		"--family", "cmos", "--history", "worked", "--clock", "rc", "--json", "--csv", "x.csv", "--explain", "--time-unit", "ms", "--interval", "1us", "--channel", "2",
		"--delimiter", ";", "--invert", "--level", "-1V", "--shape", "s", "--record", "3", "a.csv", "b.csv")
	want := reconcileOptions{
		Output:  outputFlags{JSON: true, CSV: "x.csv", Explain: true},
		Capture: captureFlags{TimeUnit: "ms", Interval: "1us", Delimiter: ";", Level: "-1V", Shape: "s", Clock: "rc", Channels: []string{"2"}, Invert: true, Record: "3"},
		Design: designFlags{designfile.Flags{Circuit: "astable", Supply: "5V", Family: "cmos", History: "worked",
			Parts: []string{"R1=10k:1%", "R2=47k"}, Targets: []string{"frequency=138:3%"}, Readings: []string{"R2=47k:1%"}}},
		Captures: []string{"a.csv", "b.csv"},
	}
	if len(got.Keep.typed) != 9 {
		t.Errorf("the ledger's key knows %v", got.Keep.typed)
	}
	want.Keep = got.Keep
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got, want)
	}
	if err := execute(t, newReconcile(s, func(o *reconcileOptions) error { got = *o; return nil }), "d.toml", "a.csv"); err != nil || got.File != "d.toml" || len(got.Captures) != 1 {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestOtherFlags(t *testing.T) {
	s, _, _ := buffered("")
	var m measureOptions
	if err := execute(t, newMeasure(s, func(o *measureOptions) error { m = *o; return nil }), "--single", "-", "a.csv"); err != nil || !m.Capture.Single || len(m.Captures) != 2 {
		t.Errorf("%+v, %v", m, err)
	}
	var p predictOptions
	if err := execute(t, newPredict(s, func(o *predictOptions) error { p = *o; return nil }), "d.toml", "--quiet"); err != nil || p.File != "d.toml" || !p.Output.Quiet {
		t.Errorf("%+v, %v", p, err)
	}
	var d demoOptions
	if err := execute(t, newDemo(s, func(o *demoOptions) error { d = *o; return nil }), "bell", "--write", "x"); err != nil || d.Board != "bell" || d.Write != "x" {
		t.Errorf("%+v, %v", d, err)
	}
}

func TestCaptureOptions(t *testing.T) {
	f := captureFlags{TimeUnit: "us", Interval: "20 us", Delimiter: "tab", Level: "-50 mV", Channels: []string{"out=CH2"}, Invert: true, Record: "2"}
	got, err := f.options()
	if err == nil {
		err = got.choose(timedRoles)
	}
	want := readOptions{Options: acquire.Options{TimeUnit: "us", Interval: 20e-6, Channels: []string{"CH2"}, Delimiter: "tab", Invert: true, Record: 2}, level: -0.05, levelSet: true, roles: map[string]string{"out": "CH2"}}
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, %v\nwant %+v", got, err, want)
	}
}

// Whatever the order on the command line, the rooms get the channels in theirs.
func TestChannels(t *testing.T) {
	for _, c := range []struct {
		flags, want string
		allowed     []string
	}{
		{"", "", timedRoles},
		{"CH1", "CH1", timedRoles},
		{"cap=B out=A", "A B", timedRoles},
		{"cap=2 1", "1 2", timedRoles},
		{"a=b", "a=b", timedRoles}, // a name that holds the mark
		{"reset=R out=Q set=S", "Q S R", latchRoles},
	} {
		o := readOptions{}
		var err error
		if o.roles, err = roles(strings.Fields(c.flags)); err == nil {
			err = o.choose(c.allowed)
		}
		if got := strings.Join(o.Channels, " "); got != c.want || err != nil {
			t.Errorf("%q: %q, %v; want %q", c.flags, got, err, c.want)
		}
	}
}

// A run-time failure inside a command is told, with status 3, and never as a stack of calls.
func TestPanicBecomesStatus3(t *testing.T) {
	s, _, stderr := buffered("")
	s.In = nil // reading standard input then fails in the hardest way
	if status := Main([]string{"measure", "-"}, s); status != Failed {
		t.Errorf("status %d", status)
	}
	if got := stderr.String(); !strings.HasPrefix(got, "offbeat: internal failure: ") || strings.Count(got, "\n") != 1 {
		t.Errorf("%q", got)
	}
}

// full is a device with no room.
type full struct{}

func (full) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

func TestOutputThatCannotBeWritten(t *testing.T) {
	bench(t)
	for _, args := range []string{"demo", "demo --json", "demo --quiet", "demo --csv -", "measure lamp-3.csv", "predict lamp.toml", "demo --write out", "reconcile lamp.toml lamp-2.csv.gz",
		"help", "--help", "--version", "help design", "demo --help", "completion bash", "completion --help", "man", "explain", "explain odds"} {
		s, _, stderr := buffered("")
		s.Out = full{}
		if status := Main(strings.Fields(args), s); status != Failed || !strings.Contains(stderr.String(), "cannot be printed: short write") {
			t.Errorf("offbeat %s: status %d, %s", args, status, stderr)
		}
	}
}

// A table that cannot be finished leaves no file behind, and one that exists stays as it was.
func TestFilesAreWholeOrNotThere(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "x.csv")
	if err := os.WriteFile(name, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	err := writeFile(name, func(w io.Writer) error {
		fmt.Fprint(w, "half")
		return io.ErrUnexpectedEOF
	})
	if err != io.ErrUnexpectedEOF { // of the work, not of the file
		t.Error(err)
	}
	if b, err := os.ReadFile(name); err != nil || string(b) != "old" {
		t.Errorf("%q, %v", b, err)
	}
	if err := writeFile(name, func(w io.Writer) error { _, err := io.WriteString(w, "new"); return err }); err != nil {
		t.Fatal(err)
	}
	left, err := os.ReadDir(dir)
	if b, _ := os.ReadFile(name); string(b) != "new" || err != nil || len(left) != 1 {
		t.Errorf("%q, %v, %v", b, left, err)
	}
}

// Ctrl-C while a file is written leaves neither the file nor a part of it.
func TestInterruptedWrite(t *testing.T) {
	dir := t.TempDir()
	err := writeFile(filepath.Join(dir, "x.csv"), func(w io.Writer) error {
		if _, err := io.WriteString(w, "half"); err != nil {
			return err
		}
		self, err := os.FindProcess(os.Getpid())
		if err != nil {
			return err
		}
		if err := self.Signal(os.Interrupt); err != nil {
			return err
		}
		for range 1000 { // the signal takes a moment
			if _, err := io.WriteString(w, "."); err != nil {
				return err
			}
			time.Sleep(time.Millisecond)
		}
		return nil
	})
	if left, e := os.ReadDir(dir); !errors.Is(err, errInterrupted) || e != nil || len(left) != 0 {
		t.Errorf("%v, %v, %v", err, left, e)
	}
}

func TestCSVFileBesideTheText(t *testing.T) {
	bench(t)
	stdout, stderr, status := run(t, "", "reconcile", "lamp.toml", "lamp-2.csv.gz", "--csv", "out.csv")
	b, err := os.ReadFile("out.csv")
	if err != nil || status != OffTarget || stderr != "" || !strings.HasPrefix(stdout, "Off target") || !strings.HasPrefix(string(b), "kind,name,unit,") {
		t.Errorf("status %d, %v, %q, %.80q, %.80q", status, err, stderr, stdout, b)
	}
}

// The flags that stand for a design file give the finding that the file gives.
func TestFlagsStandForADesign(t *testing.T) {
	bench(t)
	file, _, _ := run(t, "", "reconcile", "new-lamp.toml", "lamp-3.csv", "--json")
	flags, stderr, status := run(t, "", "reconcile", "--circuit", "astable", "--part", "R1=10k:1%", "--part", "R2=47k:1%", "--part", "C1=100n:10%", "--part", "C1.kind=film",
		"--supply", "5V:2%", "--family", "bipolar", "--history", "new", "--clock", "crystal", "--target", "frequency=138Hz:12%", "lamp-3.csv", "--json")
	file = strings.Replace(file, `  "title": "Harbour lamp, new board",`+"\n", "", 1)
	if status != OffTarget || stderr != "" || flags != file {
		t.Errorf("status %d, %s\n%s", status, stderr, difference(file, flags))
	}
}

// Every circuit runs from a sampled table and from a list of transitions: the files of the harbour cover the
// astable and the monostable, the ideal trains below the others. Their times are chosen, not computed from the
// law: the circuit must accept any pair.
func TestEveryCircuitReconciles(t *testing.T) {
	bench(t)
	for _, c := range []string{
		"--circuit astable --part R1=10k:1% --part R2=47k:1% --part C1=100n:10%",
		"--circuit astable-diode --part R1=57k:1% --part R2=47k:1% --part C1=100n:10%",
		"--circuit astable-output --part R1=52k:1% --part C1=100n:10%",
		"--circuit monostable --part R1=36k:1% --part C1=100n:10%",
	} {
		for _, capture := range []string{"lamp-1.csv.gz", "lamp-3.csv"} {
			stdout, stderr, status := run(t, "", append(strings.Fields("reconcile "+c+" --supply 5V:2%"), capture)...)
			if status != Done || stderr != "" || !strings.Contains(stdout, "CAUSES") {
				t.Errorf("%s %s: status %d\n%s%s", c, capture, status, stdout, stderr)
			}
		}
	}
}

func TestRepeatableToTheLastBit(t *testing.T) {
	bench(t)
	once := solveUntil
	defer func() { solveUntil = once }()
	solveUntil = reconcile.SolveUntil // anew each time
	first, _, _ := run(t, "", "reconcile", "lamp.toml", "lamp-2.csv.gz", "--json")
	second, _, _ := run(t, "", "reconcile", "lamp.toml", "lamp-2.csv.gz", "--json")
	if first != second || first == "" {
		t.Error(difference(first, second))
	}
}

func TestColourOnlyOnATerminal(t *testing.T) {
	s, out, _ := buffered("")
	Main([]string{"demo"}, s)
	if strings.Contains(out.String(), "\x1b") {
		t.Error("colour off a terminal")
	}
	s, out, _ = buffered("")
	s.OutTerminal, s.Color, s.Width = true, true, 72
	Main([]string{"demo"}, s)
	if !strings.Contains(out.String(), "\x1b[1mOff target") {
		t.Error("no colour on a terminal")
	}
}

// A slow read shows its progress on a terminal's standard error, and wipes it.
func TestProgressOfASlowRead(t *testing.T) {
	bench(t)
	s, _, stderr := buffered("")
	s.ErrTerminal = true
	now := time.Date(2001, 1, 1, 0, 0, 0, 0, time.UTC)
	s.Now = func() time.Time { now = now.Add(2 * time.Second); return now }
	if status := Main([]string{"measure", "lamp-1.csv.gz", "--quiet=false"}, s); status != Done {
		t.Fatalf("status %d: %s", status, stderr)
	}
	if got := stderr.String(); !strings.HasPrefix(got, "\rlamp-1.csv.gz: ") || !strings.HasSuffix(got, "\r") {
		t.Errorf("%q", got)
	}
}

func TestDemoWritesItsFiles(t *testing.T) {
	t.Chdir(t.TempDir())
	stdout, stderr, status := run(t, "", "demo", "--write", "harbour")
	if status != Done || stderr != "" || !strings.Contains(stdout, filepath.Join("harbour", "lamp-2.csv.gz")) {
		t.Fatalf("status %d: %s%s", status, stdout, stderr)
	}
	demo, _, _ := run(t, "", "demo", "lamp-4", "--json")
	again, _, _ := run(t, "", "reconcile", "harbour/new-lamp.toml", "harbour/lamp-4.csv", "--json")
	if strings.ReplaceAll(again, "harbour/", "") != demo {
		t.Error(difference(demo, again))
	}
}

// The demo's truth is known: the board was integrated with its fault. The finding must name it.
func TestDemoFindsEachFault(t *testing.T) {
	for board, want := range map[string]string{
		"lamp-1":     "nothing wrong",
		"lamp-2":     "C1 out of tolerance, about 12[0-9.]+ nF",
		"lamp-3":     `R2 of another value, 4\.7 kΩ fitted for 47 kΩ, marked 472; estimate 4\.[67][0-9]* kΩ`,
		"lamp-4":     "R1 and R2 exchanged",
		"lamp-5":     "eakage across C1, about (2[5-9]|3[0-3])[0-9.]+ kΩ",
		"breakwater": "D1 missing or open",
		"bridge":     "fell 2 times without a reset",
		"bell":       `C1 out of tolerance, about 6\.[23][0-9]* µF`,
	} {
		stdout, stderr, status := run(t, "", "demo", board, "--quiet")
		if status != Done || stderr != "" || !regexp.MustCompile(want).MatchString(stdout) {
			t.Errorf("%s: %s%s; want %q", board, stdout, stderr, want)
		}
	}
}

// What is typed wrongly is answered with what was expected.
func TestWrongFlagsSayWhatIsExpected(t *testing.T) {
	bench(t)
	if err := os.Mkdir("folder", 0o755); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args   string
		status int
		want   string
	}{
		{"lot lamp.toml lot/manifest.csv --aql x", Usage, `--aql "x"; expected a number`},
		{"lot lamp.toml lot/manifest.csv --aql 0", Usage, "expected a limit above zero"},
		{"lot lamp.toml lot/manifest.csv --workers 1.5", Usage, `--workers "1.5"; expected a whole number`},
		{"listen - --for soon", Usage, `--for "soon"; expected a time such as 30s or 5m`},
		{"measure lamp-1.csv.gz --report", Usage, "--report has no value; expected --report FILE.html"},
		{"measure lamp-1.csv.gz --chanel 1", Usage, "did you mean --channel?"},
		{"measure lamp-1.csv.gz -x", Usage, "has no option -x"},
		{"completion tcsh", Usage, "expected one of bash"},
		{"retune --circuit astable --part R1=10k --part R2=47k --part C1=100n lamp-1.csv.gz", Usage, "or --target frequency=138Hz:3%"},
		{"measure lamp-1.csv.gz --report folder", Failed, "folder cannot be written: it is a folder; expected a file's name"},
		{"predict lamp.toml --csv folder", Failed, "folder cannot be written: it is a folder; expected a file's name"},
		{"man --write lamp.toml", Failed, "lamp.toml cannot be made: not a directory; expected a folder"},
		{"measure lamp.toml", Failed, "this looks like a design, not a capture"},
	} {
		stdout, stderr, status := run(t, "", strings.Fields(c.args)...)
		if status != c.status || !strings.Contains(stderr, c.want) || stdout != "" {
			t.Errorf("%s: status %d, want %d; %q lacks %q; standard output %.60q", c.args, status, c.status, stderr, c.want, stdout)
		}
	}
}

// A person in a hurry: at 80 columns the harbour lamp takes 40 lines, and what to do first stands within the first 8, with the
// command to copy; at 60 no line is wider than the terminal.
func TestTheFirstStepIsNearTheTop(t *testing.T) {
	bench(t)
	for _, width := range []int{80, 60} {
		s, out, _ := buffered("")
		s.Width = width
		if status := Main(strings.Fields("reconcile lamp.toml lamp-2.csv.gz"), s); status != OffTarget {
			t.Fatal(status)
		}
		lines := strings.Split(strings.TrimSpace(out.String()), "\n")
		for _, l := range lines {
			if n := utf8.RuneCountInString(l); n > width {
				t.Errorf("%d columns of %d: %s", n, width, l)
			}
		}
		head := strings.Join(lines[:8], "\n")
		if width == 80 && (len(lines) > 40 || !strings.Contains(head, "\n  1. ") || !strings.HasSuffix(head, " NEW.csv")) {
			t.Errorf("%d lines, and they begin\n%s", len(lines), head)
		}
	}
}
