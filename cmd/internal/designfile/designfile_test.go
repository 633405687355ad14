package designfile

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"offbeat/fit"
	"offbeat/fit/circuit"
	"offbeat/fit/predict"
)

const designs = "../../../testdata/designs/"

// The file says each number; the test reads it off by eye.
func TestReadEveryKey(t *testing.T) {
	name := designs + "astable.toml"
	got, err := Read(name, Flags{})
	if err != nil {
		t.Fatal(err)
	}
	want := &fit.Design{
		Title: "Harbour lamp 3", File: name, Circuit: "astable", Family: "bipolar", History: "new",
		Supply: fit.Reading{Name: "supply", Value: 5, Half: 0.1},
		Parts: []fit.Part{
			{Name: "R1", Kind: fit.Resistor, Nominal: 10e3, Minus: 0.01, Plus: 0.01},
			{Name: "R2", Kind: fit.Resistor, Nominal: 47e3, Minus: 0.01, Plus: 0.01},
			{Name: "C1", Kind: fit.Capacitor, Class: "film", Nominal: 100e-9, Minus: 0.1, Plus: 0.1, Tempco: -200e-6},
		},
		Targets: []fit.Target{{Quantity: "frequency", Value: 138, Low: 138 - 138*0.03, High: 138 + 138*0.03}},
		Clock:   "crystal", ClockLimit: 100e-6,
		Readings: []fit.Reading{{Name: "R2", Value: 46.93e3, Half: 46.93e3 * 0.003}},
		Odds: map[string]float64{"shifted.C1": 0.3, "other_value": 0.05, "exchanged": 0.02, "leakage": 0.05, "thresholds": 0.02,
			"discharge": 0.01, "clock": 0, "unexplained": 0.01, "two_shifted": 0.01},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

// Flags and file are one code: the same design either way.
func TestFlagsEqualFile(t *testing.T) {
	file, err := Read(designs+"astable.toml", Flags{})
	if err != nil {
		t.Fatal(err)
	}
	flags, err := Read("", Flags{
		Circuit: "astable", Supply: "5V:2%", Family: "bipolar", History: "new", Clock: "crystal",
		Parts:    []string{"R1=10k:1%", "R2=47k:1%", "C1=100n:10%", "C1.kind=film", "C1.tempco=-200 ppm/K"},
		Targets:  []string{"frequency=138Hz:3%"},
		Readings: []string{"R2=46.93k:0.3%"},
	})
	if err != nil {
		t.Fatal(err)
	}
	file.Title, file.File, file.Odds = "", "", nil
	if !reflect.DeepEqual(flags, file) {
		t.Errorf("flags %+v\nfile  %+v", flags, file)
	}
}

// The limits of the channel that shows the capacitor, by flag and by key; silent: those of a digital oscilloscope.
func TestChannelLimits(t *testing.T) {
	d, err := Read(designs+"astable.toml", Flags{})
	if scale, zero := d.Channel(); err != nil || scale != fit.ChannelScale || zero != fit.ChannelZero {
		t.Errorf("silent: %g and %g, %v", scale, zero, err)
	}
	d, err = Read(designs+"astable.toml", Flags{Scale: "0.5 %", Zero: "2000 ppm"})
	if err != nil {
		t.Fatal(err)
	}
	if scale, zero := d.Channel(); scale != 0.005 || !(math.Abs(zero-0.002) <= 1e-15) {
		t.Errorf("by flags: %g and %g", scale, zero)
	}
	for _, wrong := range []string{"-1 %", "60 %", "0", "1 V", "3 % ± 1 %", "much"} {
		if _, err := Read(designs+"astable.toml", Flags{Scale: wrong}); err == nil || !strings.Contains(err.Error(), "--channel-scale") {
			t.Errorf("a scale of %q: %v", wrong, err)
		}
	}
}

func TestFlagsTakeThePlaceOfTheFile(t *testing.T) {
	d, err := Read(designs+"astable.toml", Flags{Supply: "12 V ± 1 %", Clock: "50 ppm", Parts: []string{"C1=220n:5%"}})
	if err != nil {
		t.Fatal(err)
	}
	c := d.Part("C1")
	if d.Supply.Value != 12 || d.ClockLimit != 50e-6 || c.Nominal != 220e-9 || c.Plus != 0.05 || c.Class != "film" || d.Part("R1").Nominal != 10e3 {
		t.Errorf("%+v", d)
	}
}

// What is silent is assumed and said.
func TestSilentDesign(t *testing.T) {
	d, err := Read("", Flags{Circuit: "astable", Parts: []string{"R1=10k", "R2=47k", "C1=22u", "C1.kind=electrolytic"}})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		`history: not given, taken as a new build (history = "worked" for a board that used to be right)`,
		"supply: not given, taken as 5 V ± 5 %",
		"R1: no tolerance given, taken as ± 5 %",
		"R2: no tolerance given, taken as ± 5 %",
		"C1: no tolerance given, taken as ± 20 %",
		"timer family: not given, taken as bipolar for what is predicted; the causes weigh bipolar 0.6 against cmos 0.4",
		"instrument clock: not given, taken as crystal, ± 100 ppm",
	}
	if !reflect.DeepEqual(d.Notes, want) {
		t.Errorf("notes:\n%s", strings.Join(d.Notes, "\n"))
	}
	if d.Part("R1").Plus != 0.05 || d.Part("C1").Minus != 0.2 || d.Supply.Half != 0.25 || d.Family != fit.Bipolar || d.History != fit.New {
		t.Errorf("%+v", d)
	}
}

func TestOtherCircuits(t *testing.T) {
	d, err := Read(designs+"monostable.toml", Flags{})
	if err != nil {
		t.Fatal(err)
	}
	c := d.Part("C1")
	if c.Minus != 0.1 || c.Plus != 0.5 || d.Readings[1].Standard != 50 || d.Readings[1].Half != 0 || d.Readings[0].Name != "supply" {
		t.Errorf("%+v", d)
	}
	files, err := filepath.Glob(designs + "*.toml")
	if err != nil || len(files) < 4 {
		t.Fatalf("designs: %v, %v", files, err)
	}
	for _, f := range files {
		if _, err := Read(f, Flags{}); err != nil {
			t.Error(err)
		}
	}
}

// good is a design that reads; each row below breaks it in one place.
const good = `title = "lamp"
circuit = "astable"
supply = "5 V ± 2 %"
[parts]
R1 = "10k ± 1 %"
R2 = "47k ± 1 %"
C1 = { value = "100n", tolerance = "10 %" }
[target]
frequency = "138 Hz ± 3 %"
[readings]
R2 = "46.93k ± 0.3 %"
[odds]
exchanged = 0.02
`

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		name     string
		old, new string // replaced in good
		want     string
		caret    string
	}{
		{"wrong unit", `"10k ± 1 %"`, `"10 kF ± 1 %"`,
			`lamp.toml:5:10: parts.R1: "kF" is a unit of capacitance; expected ohm (Ω), such as 10k, 4k7 or 470 Ω`, "R1 = \"10 kF ± 1 %\"\n         ^"},
		{"negative", `"10k ± 1 %"`, `"-10k ± 1 %"`,
			`lamp.toml:5:7: parts.R1: "-10k" is negative; expected a positive value`, ""},
		{"negative number", `"10k ± 1 %"`, `-10000`,
			`lamp.toml:5:6: parts.R1: "-10000" is negative; expected a positive value`, ""},
		{"zero", `"100n"`, `"0 nF"`, `lamp.toml:7:17: parts.C1.value: "0 nF" is zero; expected a positive value`, ""},
		{"NaN text", `"10k ± 1 %"`, `"NaN"`,
			`lamp.toml:5:7: parts.R1: "NaN" is no number; expected resistance such as 10k, 4k7 or 470 Ω`, ""},
		{"NaN number", `"10k ± 1 %"`, `nan`,
			`lamp.toml:5:6: parts.R1: "nan" is no number; expected resistance such as 10k, 4k7 or 470 Ω`, "R1 = nan\n     ^"},
		{"infinite", `"10k ± 1 %"`, `inf`,
			`lamp.toml:5:6: parts.R1: "inf" is no number; expected resistance such as 10k, 4k7 or 470 Ω`, ""},
		{"truth value", `"10k ± 1 %"`, `true`,
			`lamp.toml:5:6: parts.R1 is neither a text nor a number; expected a value in quotes, such as "10k ± 1 %"`, "R1 = true\n     ^"},
		{"unquoted", `"10k ± 1 %"`, `10k`,
			`lamp.toml:5:8: this is not TOML: strings must be quoted; expected the value in quotes: R1 = "10k"`, "R1 = 10k\n       ^"},
		{"unknown part", `R2 = "47k ± 1 %"`, `R3 = "47k ± 1 %"`,
			`lamp.toml:6:1: the astable circuit has no part "R3"; expected one of R1, R2, C1; did you mean R2?`, "R3 = \"47k ± 1 %\"\n^"},
		{"missing part", "R2 = \"47k ± 1 %\"\n", "",
			`lamp.toml: the astable circuit needs R2; expected the parts R1, R2, C1; add to [parts] a line such as R2 = "10k ± 1 %"`, ""},
		{"unknown key", `supply =`, `suply =`,
			`lamp.toml:3:1: unknown key "suply"; expected one of title, circuit, wiring, supply, minus, history, nodes, parts, timer, target, was, instrument, readings, odds; did you mean supply?`, ""},
		{"unknown table", `[target]`, `[targets]`,
			`lamp.toml:8:2: unknown key "targets"; expected one of title, circuit, wiring, supply, minus, history, nodes, parts, timer, target, was, instrument, readings, odds; did you mean target?`, ""},
		{"calibrated on no day", `[odds]`, "[instrument]\ncalibrated = \"spring\"\n[odds]",
			`lamp.toml:13:15: instrument.calibrated "spring" is no date; expected a day of ISO 8601, such as 2026-01-31`, ""},
		{"unknown empty table", `[odds]`, "[oddities]\n[odds]",
			`lamp.toml:12:2: unknown key "oddities"; expected one of title, circuit, wiring, supply, minus, history, nodes, parts, timer, target, was, instrument, readings, odds`, ""},
		{"unknown table of a part", `[target]`, "[parts.C7]\n[target]",
			`lamp.toml:8:2: the astable circuit has no part "C7"; expected one of R1, R2, C1`, ""},
		{"key as a table", `title = "lamp"`, "[title]", `lamp.toml:1:2: title is a value, not a table; expected one line such as title = "…"`, ""},
		{"key in the wrong table", `title =`, `family =`,
			`lamp.toml:1:1: unknown key "family"; expected one of title, circuit, wiring, supply, minus, history, nodes, parts, timer, target, was, instrument, readings, odds; family belongs in [timer]`, ""},
		{"unknown field", `tolerance =`, `tol =`,
			`lamp.toml:7:24: unknown key "tol"; expected one of value, tolerance, kind, tempco, position; did you mean tolerance?`, ""},
		{"unknown circuit", `"astable"`, `"astabel"`,
			`lamp.toml:2:12: unknown circuit "astabel"; expected one of `, ""},
		{"no circuit", "circuit = \"astable\"\n", "",
			`lamp.toml: the circuit is missing; expected circuit = "astable" or another of `, ""},
		{"unknown target", `frequency =`, `freq =`,
			`lamp.toml:9:1: unknown key "freq"; expected one of frequency, period, high_time, low_time, duty_factor; did you mean frequency?`, ""},
		{"target without limits", `"138 Hz ± 3 %"`, `"138 Hz"`,
			`lamp.toml:9:14: target.frequency has no limits; expected "138 Hz ± 3 %"`, ""},
		{"target with a coverage factor", `"138 Hz ± 3 %"`, `"138 Hz ± 3 % (k=2)"`,
			`lamp.toml:9:14: target.frequency: a coverage factor on a target; expected limits, such as ± 3 %`, ""},
		{"duty of a part", `frequency = "138 Hz ± 3 %"`, `duty_factor = "90 % ± 20 %"`,
			`lamp.toml:9:16: target.duty_factor reaches up to 108 %; expected limits below 100 %`, ""},
		{"reading without limits", `"46.93k ± 0.3 %"`, `"46.93k"`,
			`lamp.toml:11:7: readings.R2 has no limits; expected the meter's limits too, such as "46.93k ± 0.3 %"`, ""},
		{"reading of nothing", `R2 = "46.93k ± 0.3 %"`, `R9 = "46.93k ± 0.3 %"`,
			`lamp.toml:11:1: the astable circuit has no part or node "R9"; expected one of R1, R2, C1, supply, control; did you mean R1?`, ""},
		{"reading in the wrong unit", `R2 = "46.93k ± 0.3 %"`, `supply = "5 ohm ± 1 %"`,
			`lamp.toml:11:13: readings.supply: "ohm" is a unit of resistance; expected volt (V), such as 5 V`, ""},
		{"odds below zero", `0.02`, `-0.02`,
			`lamp.toml:13:13: odds.exchanged = -0.02 is no odds; expected a number from 0 up, such as 0.05; 0 leaves the cause out`, ""},
		{"odds as text", `0.02`, `"2 %"`,
			`lamp.toml:13:14: odds.exchanged = 2 % is no odds; expected a number from 0 up, such as 0.05; 0 leaves the cause out`, ""},
		{"odds NaN", `0.02`, `nan`,
			`lamp.toml:13:13: odds.exchanged = nan is no odds; expected a number from 0 up, such as 0.05; 0 leaves the cause out`, ""},
		{"unknown odds", `exchanged =`, `exchange =`,
			`lamp.toml:13:1: unknown key "exchange"; expected one of ` + strings.Join(oddsKeys(), ", ") + `; did you mean exchanged?`, ""},
		{"odds of a strange part", `exchanged =`, `shifted.C7 =`,
			`lamp.toml:13:1: the astable circuit has no part "C7"; expected one of R1, R2, C1; did you mean C1?`, ""},
		{"odds of a part where there are none", `exchanged =`, `clock.C1 =`,
			`lamp.toml:13:1: clock has no odds for single parts; expected odds.clock = a number`, ""},
		{"tolerance twice", `"100n"`, `"100n K"`,
			`lamp.toml:7:26: C1 has its tolerance twice; expected one of them`, ""},
		{"bad tolerance", `"10 %"`, `"10"`,
			`lamp.toml:7:37: parts.C1.tolerance: the value has a unit and the tolerance 10 has none; expected both or neither; write such as 10 % or 10 F`, ""},
		{"bad kind", `tolerance = "10 %"`, `kind = "foil"`,
			`lamp.toml:7:32: unknown parts.C1.kind "foil"; expected one of aluminium, c0g, ceramic, electrolytic, film, mica, np0, polyester, polypropylene, polystyrene, tantalum, x5r, x7r, y5v, z5u; did you mean film?`, ""},
		{"coverage on a part", `"10k ± 1 %"`, `"10k ± 1 % (k=2)"`,
			`lamp.toml:5:7: R1: a coverage factor on a part's tolerance; expected limits, such as ± 1 %; a reading of the part goes into [readings]`, ""},
		{"supply in the wrong unit", `"5 V ± 2 %"`, `"5 A"`,
			`lamp.toml:3:13: supply: "A" is a unit of current; expected volt (V), such as 5 V`, ""},
		{"duplicate", `supply =`, `circuit =`,
			`lamp.toml:3:1: this is not TOML: key circuit is already defined; expected a line such as key = "value"`, ""},
		{"value as a table", `supply = "5 V ± 2 %"`, `supply.volt = 5`, `lamp.toml:3:1: supply is a value, not a table; expected one line such as supply = "…"`, ""},
		{"deep value", `exchanged = 0.02`, "[timer]\nfamily.name = 3", `lamp.toml:14:1: timer.family is a value, not a table; expected a text or a number`, ""},
		{"table as a value", `title = "lamp"`, `timer = "cmos"`, `lamp.toml:1:1: timer is a table, not a value; expected a line [timer] with its keys below`, ""},
		{"list of tables", `[target]`, `[[target]]`, `lamp.toml:8:3: [[target]] is a list of tables; expected single brackets`, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			broken := strings.Replace(good, c.old, c.new, 1)
			if broken == good {
				t.Fatal("the row changes nothing")
			}
			entries, err := parse("lamp.toml", []byte(broken))
			if err == nil {
				b := newBuilder("lamp.toml", entries)
				_, err = b.build()
			}
			check(t, err, c.want, c.caret)
		})
	}
}

func check(t *testing.T, err error, want, caret string) {
	t.Helper()
	if want == "" {
		if err != nil {
			t.Errorf("unexpected: %v", err)
		}
		return
	}
	var e *Error
	if !errors.As(err, &e) || !errors.Is(err, ErrDesign) {
		t.Fatalf("got %v, want %s", err, want)
	}
	if got := e.Error(); got != want && !(strings.HasSuffix(want, " of ") && strings.HasPrefix(got, want)) {
		t.Errorf("\ngot  %s\nwant %s", got, want)
	}
	if caret != "" && e.Caret() != caret {
		t.Errorf("caret\n%s\nwant\n%s", e.Caret(), caret)
	}
}

func TestFlagErrors(t *testing.T) {
	parts := []string{"R1=10k:1%", "R2=47k:1%", "C1=100n:10%"}
	for _, c := range []struct {
		f           Flags
		want, caret string
	}{
		{Flags{Circuit: "astable", Parts: append([]string{"R1=10kF:1%"}, parts[1:]...)},
			`--part: parts.R1: "kF" is a unit of capacitance; expected ohm (Ω), such as 10k, 4k7 or 470 Ω`, "R1=10kF:1%\n     ^"},
		{Flags{Circuit: "astable", Parts: append([]string{"R1"}, parts...)},
			`--part: "R1" names nothing to set; expected NAME=VALUE, such as R1=10k:1%`, "R1\n^"},
		{Flags{Circuit: "astable", Parts: []string{"R1=1k", "R7=1k", "C1=1n"}},
			`--part: the astable circuit has no part "R7"; expected one of R1, R2, C1; did you mean R2?`, "R7=1k\n^"},
		{Flags{Circuit: "astable", Parts: parts, Targets: []string{"frequency=138"}},
			`--target: target.frequency has no limits; expected "138 ± 3 %"`, "frequency=138\n          ^"},
		{Flags{Circuit: "astable", Parts: parts, Clock: "quartz"},
			`--clock: unknown instrument.clock "quartz"; expected one of crystal, ceramic, rc, 50 ppm`, "quartz\n^"},
		{Flags{Circuit: "astable", Parts: parts, Clock: "60 %"},
			`--clock: instrument.clock "60 %" is no limit of a clock; expected less than 50 %`, ""},
		{Flags{Circuit: "astable", Parts: parts[:2]},
			`the flags: the astable circuit needs C1; expected the parts R1, R2, C1; add --part C1=VALUE`, ""},
		{Flags{Parts: parts}, `the flags: the circuit is missing; expected circuit = "astable" or another of `, ""},
		{Flags{Circuit: "monostable", Parts: []string{"R1=10k", "C1=1u"}, Targets: []string{"frequency=1Hz:3%"}},
			"--target: the monostable circuit has no frequency; expected target.high_time", ""},
		{Flags{Circuit: "astable", Parts: parts, Supply: "5V +10/-20%"},
			`--supply: supply has limits that differ; expected the same limit to both sides, such as ± 1 %`, ""},
	} {
		_, err := Read("", c.f)
		check(t, err, c.want, c.caret)
	}
}

func TestFilesThatAreNoDesign(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct{ name, content, want string }{
		{"empty.toml", " \n", `the design is empty; expected circuit = "…" and [parts]`},
		{"wave.csv", "time,volt\n0,1\n", `1:5: this is not TOML: expected '=' after key; expected a design file; the design comes first on the command line, then the captures`},
		{"wave.csv.gz", "\x1f\x8b\x08\x00", "this is no text; expected a design file; the design comes first on the command line, then the captures"},
		{"big.toml", strings.Repeat("# 0123456789\n", 100000), "this is too large for a design file; expected a TOML file of a few lines; the design comes first on the command line, then the captures"},
	} {
		name := filepath.Join(dir, c.name)
		if err := os.WriteFile(name, []byte(c.content), 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := Read(name, Flags{})
		sep := ": "
		if strings.HasPrefix(c.want, "1:") {
			sep = ":"
		}
		check(t, err, name+sep+c.want, "")
	}
	_, err := Read(filepath.Join(dir, "none.toml"), Flags{})
	if !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), "none.toml: the design cannot be read: no such file or directory; expected a design file") {
		t.Error(err)
	}
}

// A byte-order mark and CRLF come from other editors; they change nothing.
func TestBytesOfOtherEditors(t *testing.T) {
	plain, err := parse("lamp.toml", []byte(good))
	if err != nil {
		t.Fatal(err)
	}
	other, err := parse("lamp.toml", []byte("\xef\xbb\xbf"+strings.ReplaceAll(good, "\n", "\r\n")))
	for _, all := range [][]entry{plain, other} { // the bytes lie elsewhere
		for i := range all {
			all[i].raw = span{}
		}
	}
	if err != nil || !reflect.DeepEqual(plain, other) {
		t.Errorf("%+v, %v", other, err)
	}
}

func TestNearest(t *testing.T) {
	for _, c := range []struct{ word, want string }{
		{"suply", "supply"}, {"SUPPLY", "supply"}, {"circut", "circuit"}, {"xyz", ""}, {"histroy", "history"}, {"sup", "supply or supplies"},
	} {
		if got := Nearest(c.word, []string{"title", "circuit", "supplies", "supply", "history"}); got != c.want {
			t.Errorf("%s: %q, want %q", c.word, got, c.want)
		}
	}
}

// Whatever the bytes, reading ends in a design or in an *Error with a place.
func FuzzParse(f *testing.F) {
	f.Add([]byte(good))
	f.Add([]byte("a.b = {c = [1, {d = 2}], e = 2001-01-01}\n[[x]]\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		entries, err := parse("lamp.toml", b)
		if err == nil {
			b := newBuilder("lamp.toml", entries)
			_, err = b.build()
		}
		var e *Error
		if err != nil && !errors.As(err, &e) {
			t.Fatalf("%q: %v", b, err)
		}
		if e != nil && (e.Offset < 0 || e.Offset > len(e.Text)) {
			t.Fatalf("%q: the fault lies outside its line: %+v", b, e)
		}
	})
}

// FuzzDesign puts any text into the places of a design that hold some. It promises finite times in order, or it is an
// error with a place; and the order of its tables, comments and line ends change nothing.
func FuzzDesign(f *testing.F) {
	f.Add(uint8(0), "5 V ± 2 %", "10k ± 1 %", "47k ± 1 %", "100n ± 10 %", "bipolar", "138 Hz ± 3 %", "2.36 V ± 2 %")
	f.Add(uint8(1), "12", "4k7 J", "R47", "4n7 K", "cmos", "7.2 ms", "0.52")
	f.Add(uint8(4), "3V3", "1M", "1M", "10p", "ideal", "1 kHz ± 5 %", "0.5")
	f.Add(uint8(3), "-5 V", "0", "1e99", "1e-99", "none", "0 Hz", "1.0")
	quoted := strings.NewReplacer(`"`, `\"`, `\`, `\\`, "\n", `\n`, "\r", `\r`, "\x00", `\u0000`)
	f.Fuzz(func(t *testing.T, which uint8, supply, r1, r2, c1, family, target, upper string) {
		all := circuit.All()
		c := all[int(which)%len(all)]
		parts := "[parts]\n"
		for i, p := range c.Parts {
			parts += fmt.Sprintf("%s = \"%s\"\n", p.Name, quoted.Replace(map[bool]string{true: c1, false: [2]string{r1, r2}[i%2]}[p.Kind == fit.Capacitor]))
		}
		head := fmt.Sprintf("circuit = %q\nsupply = \"%s\"\n", c.Name, quoted.Replace(supply))
		timer := fmt.Sprintf("[timer]\nfamily = \"%s\"\nupper = \"%s\"\n", quoted.Replace(family), quoted.Replace(upper))
		wanted := fmt.Sprintf("[target]\nfrequency = \"%s\"\n", quoted.Replace(target))
		first := promised(t, head+parts+timer+wanted)
		second := promised(t, strings.ReplaceAll("# a comment\n"+head+"\n"+wanted+"# another\n"+timer+parts, "\n", "\r\n"))
		if first != second {
			t.Fatalf("%q\n%s\n%s", head+parts+timer+wanted, first, second)
		}
	})
}

// promised is the JSON of the times that a design's text promises, empty where it is an error.
func promised(t *testing.T, text string) string {
	t.Helper()
	d, _, err := ReadFrom("lamp.toml", strings.NewReader(text), Flags{})
	var e *Error
	if err != nil {
		if !errors.As(err, &e) || e.Offset < 0 || e.Offset > len(e.Text) {
			t.Fatalf("%q: %v", text, err)
		}
		return ""
	}
	r, err := predict.Run(d)
	if err != nil {
		return ""
	}
	for _, b := range r.Bands {
		near := 1e-9 * b.Nominal
		if !(b.Worst[0] > 0 && b.Worst[0] <= b.Nominal+near && b.Nominal <= b.Worst[1]+near && b.MonteCarlo[0] <= b.MonteCarlo[1]) {
			t.Fatalf("%q: %+v", text, b)
		}
	}
	b, err := json.Marshal(r.Bands) // which knows no NaN
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	return string(b)
}

// A potentiometer's resistance in circuit is the track's times the wiper's position; unknown, it may be anything
// from the end resistance up to the whole track with its tolerance.
func TestPotentiometer(t *testing.T) {
	check := func(extra string, nominal, low, high float64) {
		t.Helper()
		d, _, err := ReadFrom("lamp.toml", strings.NewReader("circuit = \"astable\"\n[parts]\nR1 = \"10k ± 1 %\"\nC1 = \"100n ± 5 %\"\n[parts.R2]\nvalue = \"100k\"\ntolerance = \"20 %\"\nkind = \"potentiometer\"\n"+extra), Flags{})
		if err != nil {
			t.Fatal(err)
		}
		p := d.Part("R2")
		for _, c := range [][2]float64{{p.Nominal, nominal}, {p.Low(), low}, {p.High(), high}} {
			if !(math.Abs(c[0]/c[1]-1) <= 1e-12) {
				t.Errorf("%q: got %v … %v … %v, want %v … %v … %v", extra, p.Low(), p.Nominal, p.High(), low, nominal, high)
			}
		}
	}
	check("", 50e3, 0.8e3, 120e3)
	check("position = \"unknown\"\n", 50e3, 0.8e3, 120e3)
	check("position = \"40 % ± 5 %\"\n", 40e3, 80e3*0.38, 120e3*0.42)
	for _, bad := range []string{"position = \"140 %\"", "position = \"10k\""} {
		if _, _, err := ReadFrom("lamp.toml", strings.NewReader("circuit = \"astable\"\n[parts]\nR1 = \"10k\"\nC1 = \"100n\"\nR2 = { value = \"100k\", kind = \"potentiometer\", "+bad+" }\n"), Flags{}); err == nil {
			t.Errorf("%s was taken", bad)
		}
	}
}

// Thresholds are volts or a ratio to the supply; the families are those that the circuit knows.
func TestTimer(t *testing.T) {
	read := func(timer string) (*fit.Design, error) {
		d, _, err := ReadFrom("lamp.toml", strings.NewReader("circuit = \"schmitt\"\nsupply = \"4.5 V ± 1 %\"\n[parts]\nR1 = \"47k ± 1 %\"\nC1 = \"100n ± 5 %\"\n[timer]\n"+timer), Flags{})
		return d, err
	}
	d, err := read("upper = \"2.25 V ± 2 %\"\nlower = \"0.34 ± 0.01\"\n")
	if err != nil {
		t.Fatal(err)
	}
	if !(math.Abs(d.Upper.Value-0.5) <= 1e-12) || !(math.Abs(d.Upper.Half-0.01) <= 1e-12) || !(math.Abs(d.Lower.Value-0.34) <= 1e-12) || !(math.Abs(d.Lower.Half-0.01) <= 1e-12) {
		t.Errorf("thresholds %+v %+v", d.Upper, d.Lower)
	}
	if d.Family != fit.CMOS {
		t.Errorf("a Schmitt inverter's family is %q where the design is silent, want cmos", d.Family)
	}
	for _, bad := range []string{"upper = \"6 V\"", "upper = \"0.4\"\nlower = \"0.5\"", "family = \"bipolar\"", "upper = \"10k\""} {
		if _, err := read(bad); err == nil {
			t.Errorf("%s was taken", bad)
		}
	}
}

// A latch has inputs and no times: what asks for a time is refused with its place.
func TestBistable(t *testing.T) {
	d, err := Read("", Flags{Circuit: "bistable"})
	if err != nil || d.Inputs != fit.ActiveLow || len(d.Parts) != 0 || len(d.Notes) != 1 || !strings.HasPrefix(d.Notes[0], "timer inputs: ") {
		t.Errorf("%+v, %v", d, err)
	}
	if d, err := Read("", Flags{Circuit: "bistable", Inputs: "active high"}); err != nil || d.Inputs != fit.ActiveHigh || len(d.Notes) != 0 {
		t.Errorf("%+v, %v", d, err)
	}
	for _, c := range []struct{ circuit, text, want string }{
		{"bistable", "[parts]\nR1 = \"1k\"\n", `lamp.toml:3:1: the bistable circuit has no part "R1"; expected no parts: it keeps no time`},
		{"bistable", "[target]\nfrequency = \"1 Hz ± 1 %\"\n", `lamp.toml:3:1: target.frequency has no meaning for the bistable circuit, which keeps no time; expected no target.frequency`},
		{"bistable", "[odds]\nclock = 0\n", `lamp.toml:3:1: odds.clock has no meaning for the bistable circuit, which keeps no time; expected no odds.clock`},
		{"bistable", "[readings]\nsupply = \"5 V ± 1 %\"\n", `lamp.toml:3:1: readings.supply has no meaning for the bistable circuit, which keeps no time; expected no readings.supply`},
		{"bistable", "[timer]\nupper = \"0.5\"\n", `lamp.toml:3:1: timer.upper has no meaning for the bistable circuit, which keeps no time; expected no timer.upper`},
		{"bistable", "[timer]\ninputs = \"low active\"\n", `lamp.toml:3:11: unknown timer.inputs "low active"; expected one of active low, active high`},
		{"monostable", "[timer]\ninputs = \"active low\"\n", `lamp.toml:3:1: the monostable circuit has no inputs to set and reset it; expected timer.inputs with circuit = "bistable" only`},
	} {
		text := "circuit = \"" + c.circuit + "\"\n" + c.text
		if c.circuit == "monostable" {
			text += "[parts]\nR1 = \"1k\"\nC1 = \"1n\"\n"
		}
		if _, _, err := ReadFrom("lamp.toml", strings.NewReader(text), Flags{}); err == nil || err.Error() != c.want {
			t.Errorf("%q:\ngot  %v\nwant %s", c.text, err, c.want)
		}
	}
}
