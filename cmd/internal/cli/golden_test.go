package cli

import (
	"bytes"
	"compress/gzip"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"offbeat/cmd/internal/demo"
	"offbeat/cmd/internal/streams"
)

var update = flag.Bool("update", false, "rewrite the golden files and the README's examples")

// run calls the program in process.
func run(t *testing.T, input string, args ...string) (stdout, stderr string, status int) {
	t.Helper()
	s, out, err := buffered(input)
	status = Main(args, s)
	return out.String(), err.String(), status
}

// here is where the tests stand before they move into a bench folder.
var here = func() string {
	d, err := os.Getwd()
	if err != nil {
		return "."
	}
	return d
}()

// bench moves the test into a folder with the harbour's files and broken ones beside them.
func bench(t *testing.T) {
	t.Helper()
	dir := t.TempDir()
	files, err := demo.Files()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(dir, files); err != nil {
		t.Fatal(err)
	}
	brokenOnce.Do(func() { brokenKept = broken(t, dir) })
	for name, content := range brokenKept {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Chdir(dir)
}

// They are made once: they follow from the demo's files alone.
var (
	brokenOnce sync.Once
	brokenKept map[string]string
)

// broken are the inputs that must end in a clear message.
func broken(t *testing.T, dir string) map[string]string {
	t.Helper()
	wave := unzip(t, filepath.Join(dir, "lamp-1.csv.gz"))
	rows := strings.SplitAfter(wave, "\n")
	lamp, err := os.ReadFile(filepath.Join(dir, "lamp.toml"))
	if err != nil {
		t.Fatal(err)
	}
	replaced := func(old, new string) string {
		s := strings.Replace(string(lamp), old, new, 1)
		if s == string(lamp) {
			t.Fatalf("lamp.toml has no %q", old)
		}
		return s
	}
	three := "time,out,set,reset\n"
	for i := range 100 {
		three += fmt.Sprintf("%.4f,%.2f,3.31,3.29\n", float64(i)*1e-4, 0.05*float64(i))
	}
	flat, noisy, unknown, stood := "time,volt\n", "time,volt\n", "", ""
	for i := range 1000 {
		noisy += fmt.Sprintf("%.5f,%.2f\n", float64(i)*1e-5, 3.3+0.01*float64(i*i%7))
		unknown += fmt.Sprintf("%.6f,NaN\n", float64(i)*2e-5)
		flat += fmt.Sprintf("%.5f,1.00\n", float64(i)*1e-5)
		stood += fmt.Sprintf("%.5f,%.2f\n", float64(i)*2e-4, 0.1+0.01*float64(i*i%7))
	}
	return map[string]string{
		"warm.csv":           warming(),
		"empty.csv":          "",
		"header.csv":         "time,volt\n",
		"few.csv":            strings.Join(rows[:600], ""),
		"flat.csv":           flat,
		"stands.csv":         "Time[s],out\n0,0\n0.0021,1\n0.7,1\n",
		"stands-twice.csv":   "Time[s],V\n" + strings.Repeat(stood, 2),
		"nan.csv":            strings.Join(rows[:7], "") + unknown,
		"good.csv":           "Time[s],Q,S,R\n0,0,1,1\n1,1,0,1\n1.2,1,1,1\n3,0,1,0\n3.1,0,1,1\n5,0,1,1\n",
		"untried.csv":        "Time[s],out,set,reset\n0,0,1,1\n1,1,0,1\n1.2,1,1,1\n3,1,1,1\n",
		"still.csv":          "Time[s],out,set,reset\n0,0,1,1\n",
		"three.csv":          three,
		"noisy.csv":          noisy,
		"cut.csv":            strings.Join(rows[:2000], ""),
		"picture.csv":        "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
		"page.csv":           "<!DOCTYPE html>\n<html><body>0,1</body></html>\n",
		"empty.toml":         "",
		"wrong-unit.toml":    replaced(`"10k ± 1 %"`, `"10 kF ± 1 %"`),
		"negative.toml":      replaced(`"47k ± 1 %"`, `"-47k ± 1 %"`),
		"nan.toml":           replaced(`"47k ± 1 %"`, `nan`),
		"unknown-part.toml":  replaced(`R2 =`, `R3 =`),
		"missing-part.toml":  replaced("R2 = \"47k ± 1 %\"\n", ""),
		"unknown-key.toml":   replaced("history =", "histroy ="),
		"unknown-table.toml": replaced("[target]", "[targets]"),
		"lamps.csv": "board,capture,lot,time\nlamp 1,lamp-1.csv.gz,spring,2026-01-31T08:00:00Z\nlamp 2,lamp-2.csv.gz,spring,2026-01-31T08:05:00Z\n" +
			"lamp 3,lamp-3.csv,spring,2026-01-31T08:10:00Z\nlamp 4,lamp-4.csv,spring,2026-01-31T08:15:00Z\nlamp 9,empty.csv,spring,2026-01-31T08:20:00Z\n",
		"lamps-wrong.csv": "board,capture,time\nlamp 1,lamp-1.csv.gz,soon\n,lamp-2.csv.gz,\n",
		"still.toml":      string(lamp) + "\n[[evidence]]\ncapture = \"lamp-5.csv.gz\"\n[[evidence]]\ncapture = \"no pulse in 60 s\"\nwith = [\"C1 at 55 °C ± 5 °C\"]\n",
		"tight.toml":      replaced("138 Hz ± 12 %", "138 Hz ± 2.325 %"),
	}
}

// warming is a lamp's output, that output inverted, and a temperature that rises and falls by 10 K, which the period
// follows by -200 ppm/K.
func warming() string {
	var b strings.Builder
	b.WriteString("time (s),out (V),other (V),temp (°C)\n")
	const step, rows = 83e-6, 24000
	next, high := 2e-3, false
	for i := range rows {
		t := i * 83
		at := float64(t) * 1e-6
		warmer := 10 * math.Sin(2*math.Pi*at/(step*rows))
		for at >= next {
			span := 3.9612e-3
			if high {
				span = 3.2711e-3
			}
			high = !high
			next += span * (1 - 200e-6*warmer)
		}
		// The edge is a ramp of two steps, by which it is interpolated.
		slope := max(0, min(1, (next-at)/(2*step)))
		level := 5 * (1 - slope)
		if high {
			level = 5 * slope
		}
		fmt.Fprintf(&b, "%d.%06d,%.3f,%.3f,%.2f\n", t/1e6, t%1e6, level, 5-level, 25+warmer)
	}
	return b.String()
}

func unzip(t *testing.T, name string) string {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if _, err := b.ReadFrom(z); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// same checks one stream against its golden file; no file means that it must be empty.
func same(t *testing.T, name, got string) {
	t.Helper()
	folder := filepath.Join(here, "testdata", "golden")
	file := filepath.Join(folder, name)
	if *update {
		os.Remove(file)
		if got == "" {
			return
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	if string(want) == got {
		return
	}
	if err := os.WriteFile(filepath.Join(folder, ".got-"+name), []byte(got), 0o644); err != nil {
		t.Fatal(err)
	}
	t.Errorf("%s differs (make update rewrites it):\n%s", name, difference(string(want), got))
}

// difference shows the first line that differs.
func difference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		var a, b string
		if i < len(w) {
			a = w[i]
		}
		if i < len(g) {
			b = g[i]
		}
		if a != b {
			return fmt.Sprintf("line %d\n  want %q\n  got  %q", i+1, a, b)
		}
	}
	return "the ends differ"
}

func TestGolden(t *testing.T) {
	bench(t)
	for _, c := range []struct {
		name   string
		status int
		input  string
		args   string
	}{
		{"root", 0, "", ""},
		{"help-reconcile", 0, "", "reconcile --help"},
		{"help-measure", 0, "", "measure --help"},
		{"help-predict", 0, "", "predict --help"},
		{"help-lot", 0, "", "lot --help"},
		{"help-ledger", 0, "", "ledger --help"},
		{"help-demo", 0, "", "demo --help"},
		{"help-design", 0, "", "help design"},
		{"help-captures", 0, "", "help captures"},
		{"help-values", 0, "", "help values"},

		{"demo", 0, "", "demo"},
		{"demo-bell-explain", 0, "", "demo bell --explain"},
		{"demo-json", 0, "", "demo --json"},
		{"demo-quiet", 0, "", "demo lamp-5 --quiet"},
		{"demo-unknown", 2, "", "demo lamp-9"},
		{"reconcile-pass", 0, "", "reconcile lamp.toml lamp-1.csv.gz"},
		{"reconcile-was", 1, "", "reconcile lamp.toml lamp-2.csv.gz --was frequency=138Hz:2%"},
		{"reconcile-fail", 1, "", "reconcile lamp.toml lamp-2.csv.gz --quiet"},
		{"reconcile-undecided", 4, "", "reconcile tight.toml lamp-1.csv.gz --quiet"},
		{"reconcile-no-target", 0, "", "reconcile --circuit astable --part R1=10k:1% --part R2=47k:1% --part C1=100n:10% lamp-4.csv"},
		{"reconcile-monostable", 1, "", "reconcile bell.toml bell.csv"},
		{"reconcile-look", 1, "", "reconcile breakwater.toml breakwater.csv --look marking:R1:right --look inspection:D1:faulty"},
		{"reconcile-csv", 1, "", "reconcile lamp.toml lamp-2.csv.gz --csv -"},
		{"reconcile-named-twice", 1, "", "reconcile lamp.toml lamp-2.csv.gz lamp-2.csv.gz --quiet"},
		{"latch", 1, "", "reconcile bridge.toml bridge.csv"},
		{"latch-named", 0, "", "reconcile --circuit bistable good.csv --channel out=Q --channel set=S --channel reset=R"},
		{"latch-json", 1, "", "reconcile bridge.toml bridge.csv --json"},
		{"latch-csv", 1, "", "reconcile bridge.toml bridge.csv --csv -"},
		{"latch-untried", 4, "", "reconcile --circuit bistable untried.csv --quiet"},
		{"latch-two", 1, "", "reconcile bridge.toml bridge.csv good.csv --channel 1 --channel set=2 --channel reset=3 --quiet"},
		{"lot", 1, "", "lot lamp.toml lamps.csv"},
		{"lot-quiet", 1, "", "lot lamp.toml lamps.csv --quiet --ledger harbour.db"},
		{"lot-csv", 1, "", "lot lamp.toml lamps.csv --csv -"},
		{"ledger", 0, "", "ledger harbour.db --to 2026-01-31"},
		{"ledger-board", 0, "", "ledger harbour.db --board lamp --quiet"},
		{"measure", 0, "", "measure lamp-1.csv.gz --explain"},
		{"measure-json", 0, "", "measure lamp-3.csv --json"},
		{"measure-csv", 0, "", "measure lamp-3.csv lamp-4.csv --csv -"},
		{"measure-quiet", 0, "", "measure lamp-3.csv lamp-4.csv --quiet"},
		{"measure-single", 0, "", "measure bell.csv --single --clock 50ppm"},
		{"measure-stdin", 0, "Time[s],Output\n0,0\n1,1\n2,0\n4,1\n5,0\n7,1\n8,0\n10,1\n", "measure - --quiet"},
		{"measure-waveform", 0, "", "measure lamp-5-probed.csv.gz --channel out=Output --channel cap=Capacitor"},
		{"reconcile-waveform", 0, "", "reconcile lamp.toml --with C1||10M±2% --with C1||12p±20% lamp-5-probed.csv.gz --channel out=Output --channel cap=Capacitor"},
		{"reconcile-waveform-csv", 0, "", "reconcile lamp.toml --with C1||10M±2% --with C1||12p±20% lamp-5-probed.csv.gz --channel out=Output --channel cap=Capacitor --csv -"},
		{"measure-temperature", 0, "", "measure warm.csv --channel out=1 --channel temperature=3"},
		{"reconcile-temperature", 0, "", "reconcile --circuit astable --part R1=10k:5% --part R2=47k:5% --part C1=100n:10% --part C1.tempco=-210ppm/K warm.csv --channel out=1 --channel temperature=temp"},
		{"predict", 0, "", "predict lamp.toml"},
		{"predict-probe", 0, "", "predict lamp.toml --with C1||10M --with C1||12p --quiet"},
		{"predict-json", 0, "", "predict bell.toml --json"},
		{"predict-quiet", 0, "", "predict --circuit monostable --part R1=100k:1% --part C1=10u:20% --part C1.kind=electrolytic --supply 12V --quiet"},

		// Each bad input has its message and its status.
		{"bad-wrong-unit", 3, "", "predict wrong-unit.toml"},
		{"bad-wrong-unit-flag", 2, "", "predict --circuit astable --part R1=10kF:1%"},
		{"bad-negative", 3, "", "predict negative.toml"},
		{"bad-nan", 3, "", "predict nan.toml"},
		{"bad-unknown-part", 3, "", "reconcile unknown-part.toml lamp-1.csv.gz"},
		{"bad-unknown-part-flag", 2, "", "predict --circuit monostable --part R1=10k --part R2=10k --part C1=1n"},
		{"bad-missing-part", 3, "", "reconcile missing-part.toml lamp-1.csv.gz"},
		{"bad-missing-part-flag", 2, "", "predict --circuit astable --part R1=10k --part C1=1n"},
		{"bad-unknown-key", 3, "", "reconcile unknown-key.toml lamp-1.csv.gz"},
		{"bad-unknown-table", 3, "", "reconcile unknown-table.toml lamp-1.csv.gz"},
		{"bad-few-cycles", 3, "", "reconcile lamp.toml few.csv"},
		{"bad-flat-line", 3, "", "reconcile lamp.toml flat.csv"},
		{"bad-flat-noisy", 3, "", "measure noisy.csv"},
		{"bad-design-as-capture", 3, "", "reconcile lamp.toml lamp-1.csv.gz bell.toml"},
		{"predict-does-not-run", 1, "", "predict --circuit astable --part R1=1 --part R2=1k --part C1=1n"},
		{"usage-does-not-run-reconcile", 2, "", "reconcile --circuit astable --part R1=1 --part R2=1k --part C1=1n lamp-3.csv"},
		{"bad-interval-uneven", 3, "", "measure lamp-3.csv --interval 1us"},
		{"measure-interval", 0, "", "measure lamp-1.csv.gz --interval 40us"},
		{"measure-cut", 0, "", "measure cut.csv"},
		{"bad-nan-capture", 3, "", "reconcile lamp.toml nan.csv"},
		{"bad-empty-capture", 3, "", "reconcile lamp.toml empty.csv"},
		{"bad-header-only", 3, "", "measure header.csv"},
		{"bad-empty-design", 3, "", "reconcile empty.toml lamp-1.csv.gz"},
		{"bad-empty-stdin", 3, "", "measure -"},
		{"bad-picture", 3, "", "measure picture.csv"},
		{"bad-page", 3, "", "measure page.csv"},
		{"bad-no-capture", 3, "", "reconcile lamp.toml none.csv"},
		{"bad-no-design", 3, "", "reconcile none.toml lamp-1.csv.gz"},
		{"bad-order", 3, "", "reconcile lamp-1.csv.gz lamp.toml"},
		{"bad-folder", 3, "", "measure ."},
		{"bad-manifest", 3, "", "lot lamp.toml lamps-wrong.csv"},
		{"bad-manifest-design", 3, "", "lot lamp.toml lamp.toml"},
		{"bad-ledger", 3, "", "ledger lamp.toml"},
		{"bad-channel", 3, "", "measure lamp-1.csv.gz --channel 3"},
		{"bad-cap-missing", 3, "", "measure lamp-5.csv.gz --channel out=1 --channel cap=2"},
		{"bad-cap-square", 3, "", "measure warm.csv --channel out=1 --channel cap=2"},
		{"bad-cap-states", 3, "", "measure bridge.csv --channel out=1 --channel cap=2"},
		{"bad-csv-path", 3, "", "measure lamp-3.csv --csv none/x.csv"},

		{"bad-latch-channels", 3, "", "reconcile bridge.toml good.csv --channel set=S"},
		{"bad-latch-analogue", 3, "", "reconcile bridge.toml three.csv"},
		{"bad-latch-still", 3, "", "reconcile bridge.toml still.csv"},
		{"bad-latch-predict", 3, "", "predict bridge.toml"},

		{"usage-latch-part", 2, "", "reconcile --circuit bistable --part R1=10k good.csv"},
		{"usage-latch-level", 2, "", "reconcile bridge.toml bridge.csv --level 1V"},
		{"usage-latch-inputs", 2, "", "reconcile bridge.toml bridge.csv --inputs high"},
		{"usage-latch-cap", 2, "", "reconcile bridge.toml bridge.csv --channel cap=2"},
		{"usage-channel-set", 2, "", "reconcile lamp.toml lamp-3.csv --channel set=1"},
		{"usage-channel-cap-alone", 2, "", "measure lamp-3.csv --channel cap=2"},
		{"usage-channel-temperature-alone", 2, "", "measure warm.csv --channel temperature=3"},
		{"usage-cap-is-out", 2, "", "measure lamp-5-probed.csv.gz --channel out=1 --channel cap=Output"},
		{"usage-lot-cap", 2, "", "lot lamp.toml lamps.csv --channel out=1 --channel cap=2"},
		{"reconcile-still", 0, "", "reconcile still.toml --quiet"},
		{"reconcile-stands", 1, "", "reconcile lamp.toml stands.csv"},
		{"reconcile-stands-twice", 4, "", "reconcile lamp.toml stands-twice.csv --quiet"},
		{"usage-stands", 3, "", "reconcile lamp.toml lamp-1.csv.gz stands.csv"},
		{"usage-still", 3, "", "reconcile still.toml lamp-5.csv.gz --with C1=100n flat.csv"},
		{"help-looks", 0, "", "help looks"},
		{"usage-look", 2, "", "reconcile lamp.toml lamp-1.csv.gz --look marking:R2:SEEN"},
		{"usage-look-part", 2, "", "reconcile lamp.toml lamp-1.csv.gz --look marking:R7:wrong"},
		{"usage-look-name", 2, "", "reconcile lamp.toml lamp-1.csv.gz --look polish:R2:wrong"},
		{"usage-command", 2, "", "reconsile lamp.toml"},
		{"usage-help-topic", 2, "", "help desing"},
		{"usage-completion", 2, "", "completion bash x"},
		{"usage-flag-value", 2, "", "demo --json=maybe"},
		{"usage-flag-argument", 2, "", "measure --channel"},
		{"usage-flag", 2, "", "measure --bogus lamp-1.csv.gz"},
		{"usage-no-arguments", 2, "", "reconcile"},
		{"usage-no-capture", 2, "", "reconcile lamp.toml"},
		{"usage-no-circuit", 2, "", "reconcile --part R1=10k lamp-1.csv.gz"},
		{"usage-measure-nothing", 2, "", "measure"},
		{"usage-predict-nothing", 2, "", "predict"},
		{"usage-lot-nothing", 2, "", "lot lamp.toml"},
		{"usage-lot-aql", 2, "", "lot lamp.toml lamps.csv --aql 1.1"},
		{"usage-predict-two", 2, "", "predict lamp.toml bell.toml"},
		{"usage-demo-two", 2, "", "demo lamp-1 lamp-2"},
		{"usage-json-quiet", 2, "", "demo --json --quiet"},
		{"usage-time-unit", 2, "", "measure lamp-1.csv.gz --time-unit hours"},
		{"usage-delimiter", 2, "", "measure lamp-1.csv.gz --delimiter !"},
		{"usage-shape", 2, "", "measure lamp-1.csv.gz --shape sponge"},
		{"usage-interval", 2, "", "measure lamp-1.csv.gz --interval 20xs"},
		{"usage-interval-tolerance", 2, "", "measure lamp-1.csv.gz --interval 20us:1%"},
		{"usage-level", 2, "", "measure lamp-1.csv.gz --level high"},
		{"usage-record", 2, "", "measure lamp-1.csv.gz --record x"},
		{"usage-record-beyond", 2, "", "measure lamp-1.csv.gz --record 4"},
		{"usage-channel", 2, "", "measure lamp-1.csv.gz --channel out="},
		{"usage-channels", 2, "", "measure lamp-1.csv.gz --channel 1 --channel 2"},
		{"usage-clock", 2, "", "measure lamp-1.csv.gz --clock quartz"},
	} {
		t.Run(c.name, func(t *testing.T) {
			stdout, stderr, status := run(t, c.input, strings.Fields(c.args)...)
			if status != c.status {
				t.Errorf("offbeat %s: status %d, want %d\n%s", c.args, status, c.status, stderr)
			}
			same(t, c.name+".stdout", stdout)
			same(t, c.name+".stderr", stderr)
		})
	}
}

// Every golden file belongs to a row of the table, so that none outlives its test.
func TestNoGoldenIsLeftOver(t *testing.T) {
	b, err := os.ReadFile("golden_test.go")
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob("testdata/golden/[a-z]*.std*") // not .got- files
	if err != nil || len(files) < 50 {
		t.Fatalf("%d golden files, %v", len(files), err)
	}
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f))
		if !bytes.Contains(b, []byte("{\""+name+"\",")) {
			t.Errorf("%s has no row in TestGolden", f)
		}
	}
}

// buffered is streams over buffers; input is what In holds.
func buffered(input string) (s *streams.Streams, out, err *bytes.Buffer) {
	out, err = &bytes.Buffer{}, &bytes.Buffer{}
	return streams.Over(strings.NewReader(input), out, err), out, err
}
