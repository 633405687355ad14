package manifest

import (
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"offbeat/acquire"
	"offbeat/acquire/internal/sheet"
	"offbeat/acquire/quantity"
)

var units = map[string]quantity.Unit{"R1": quantity.Ohm, "R2": quantity.Ohm, "C1": quantity.Farad, "supply": quantity.Volt}

func read(t *testing.T, text string) *Manifest {
	t.Helper()
	m, err := Read("lot.csv", "bench", strings.NewReader(text), Options{Units: units})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func TestAllColumns(t *testing.T) {
	m := read(t, `# the third harbour batch
 Board ,CAPTURE,lot,station,operator,time,temperature,supply,readings

lamp 1,a/one.csv,7,north,KL,2026-01-31T14:05:00+01:00,23.5 °C,5.02 V ± 1 %,R2=46.93k ± 0.3 %; C1 = 101n ± 1n (k=2)
"lamp, the second",two.csv,,,,,,,
`)
	if len(m.Entries) != 2 || len(m.Notes) != 0 {
		t.Fatalf("%+v", m)
	}
	e := m.Entries[0]
	if e.Board != "lamp 1" || e.Capture != filepath.Join("bench", "a", "one.csv") || e.Lot != "7" || e.Station != "north" || e.Operator != "KL" || e.Line != 4 {
		t.Errorf("%+v", e)
	}
	if !e.Time.Equal(time.Date(2026, 1, 31, 13, 5, 0, 0, time.UTC)) || *e.Temperature != 23.5 || e.Supply.Value != 5.02 || e.Supply.Tolerance.Plus != 0.01 {
		t.Errorf("%+v", e)
	}
	if len(e.Readings) != 2 || e.Readings[0].Name != "R2" || e.Readings[0].Quantity.Value != 46930 || e.Readings[1].Name != "C1" ||
		math.Abs(e.Readings[1].Quantity.Value-101e-9) > 1e-20 || e.Readings[1].Quantity.Tolerance.Coverage != 2 {
		t.Errorf("%+v", e.Readings)
	}
	if e := m.Entries[1]; e.Board != "lamp, the second" || !e.Time.IsZero() || e.Temperature != nil || e.Supply != nil || e.Readings != nil || e.Line != 5 {
		t.Errorf("%+v", e)
	}
}

// The same table however it was saved reads the same.
func TestEncodings(t *testing.T) {
	plain := "board,capture,temperature\nlamp 1,one.csv,23.5\nlamp 2,two.csv,-4\n"
	want := read(t, plain).Entries
	wide := utf16.Encode([]rune(plain))
	little, big := []byte{0xff, 0xfe}, []byte{0xfe, 0xff}
	for _, u := range wide {
		little = append(little, byte(u), byte(u>>8))
		big = append(big, byte(u>>8), byte(u))
	}
	for name, text := range map[string]string{
		"byte-order mark":    "\xef\xbb\xbf" + plain,
		"CRLF":               strings.ReplaceAll(plain, "\n", "\r\n"),
		"CR":                 strings.ReplaceAll(plain, "\n", "\r"),
		"tabs":               strings.ReplaceAll(plain, ",", "\t"),
		"semicolons, commas": strings.ReplaceAll(strings.ReplaceAll(plain, ",", ";"), "23.5", "23,5"),
		"no last line end":   strings.TrimSuffix(plain, "\n"),
		"UTF-16 little":      string(little),
		"UTF-16 big":         string(big),
	} {
		if got := read(t, text).Entries; !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, want %+v", name, got, want)
		}
	}
}

// place strips the mark § from a table and gives its line and byte column.
func place(text string) (plain string, line, column int) {
	at := strings.Index(text, "§")
	before := text[:at]
	return before + text[at+len("§"):], 1 + strings.Count(before, "\n"), at - strings.LastIndex(before, "\n")
}

// Each § marks where the fault must be reported.
func TestFaults(t *testing.T) {
	for _, c := range []struct {
		name, text string
		sentinel   error
		column     bool // the fault has a column
		says       string
	}{
		{"no board column", "§name,capture\nx,y\n", acquire.ErrShape, false, `"board"`},
		{"a design in place of a manifest", "title = §\"Harbour lamp\"\n", acquire.ErrShape, true, "design comes first"},
		{"a capture in place of a manifest", "§time,volts\n0,1\n", acquire.ErrShape, false, "folder"},
		{"column twice", "board,capture,§board\nx,y,z\n", acquire.ErrSyntax, true, "twice"},
		{"empty board", "board,capture\nx,y\n§,z\n", acquire.ErrSyntax, true, "no board"},
		{"empty capture", "board,capture,lot\nx,§,7\n", acquire.ErrSyntax, true, "no capture"},
		{"row too short", "board,capture,lot\nx,y,1\n§x,y\n", acquire.ErrSyntax, false, "more or fewer cells"},
		{"stray quote", "board,capture\nx,y§\"z\n", acquire.ErrSyntax, true, "quote"},
		{"time", "board,capture,time\nx,y,§31.1.2026\n", acquire.ErrSyntax, true, "ISO 8601"},
		{"temperature", "board,capture,temperature\nx,y,§warm\n", acquire.ErrSyntax, true, "Celsius"},
		{"a hexadecimal temperature", "board,capture,temperature\nx,y,§0x1p4\n", acquire.ErrSyntax, true, "Celsius"},
		{"supply", "board,capture,supply\nx,y,5 §A\n", acquire.ErrSyntax, true, "supply"},
		{"unknown reading", "board,capture,readings\nx,y,R1=10k±1%;§ R9=1k±1%\n", acquire.ErrSyntax, true, "R9"},
		{"reading's value", "board,capture,readings\nx,y,R1=10k±1%; R2= 47§q\n", acquire.ErrSyntax, true, "readings"},
		{"reading without limits", "board,capture,readings\nx,y,§R1=10k\n", acquire.ErrSyntax, true, "limits"},
		{"pattern without files", "board,capture\nx,§nothing-*.csv\n", acquire.ErrEmpty, true, "nothing-*.csv"},
		{"header alone", "§board,capture\n", acquire.ErrEmpty, false, "no board"},
	} {
		text, line, column := place(c.text)
		_, err := Read("lot.csv", "bench", strings.NewReader(text), Options{Units: units})
		var e *acquire.Error
		if !errors.As(err, &e) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if !c.column {
			column = 0
		}
		if e.Line != line || e.Column != column || !errors.Is(err, c.sentinel) || !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(e.Error(), "lot.csv:") {
			t.Errorf("%s: %v; want line %d, column %d, %q", c.name, err, line, column, c.says)
		}
	}
}

func TestEveryFaultIsListed(t *testing.T) {
	_, err := Read("lot.csv", ".", strings.NewReader("board,capture,time\n,a,\nx,b,soon\ny,c,2026-01-31\nz,,\n"), Options{})
	if err == nil || strings.Count(err.Error(), "\n") != 2 || !strings.Contains(err.Error(), "lot.csv:2") || !strings.Contains(err.Error(), "lot.csv:3") || !strings.Contains(err.Error(), "lot.csv:5") {
		t.Errorf("%v", err)
	}
	many := "board,capture\n" + strings.Repeat(",x\n", 1000)
	if _, err := Read("lot.csv", ".", strings.NewReader(many), Options{}); strings.Count(err.Error(), "\n") != sheet.ShownFaults-1 {
		t.Errorf("%d lines", strings.Count(err.Error(), "\n"))
	}
	for _, empty := range []string{"", " \n\n"} {
		if _, err := Read("lot.csv", ".", strings.NewReader(empty), Options{}); !errors.Is(err, acquire.ErrEmpty) {
			t.Errorf("%q: %v", empty, err)
		}
	}
}

// Files are found though they are written in another case, without their ending or with another system's slashes; never where two may
// be meant. Columns may have names of the trade, rows of delimiters alone are blank, and what was taken for what is said.
func TestOtherForms(t *testing.T) {
	dir := bench(t, "Lamp-1.csv", "lamp-2.CSV", "lamp-3.csv", "lamp-3.txt", "lamp-4.csv.gz")
	if err := os.Mkdir(filepath.Join(dir, "Week 1"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "Week 1", "a.csv"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	for written, want := range map[string]string{"lamp-1.csv": "Lamp-1.csv", "LAMP-2": "lamp-2.CSV", "lamp-3": "lamp-3", "lamp-3.TXT": "lamp-3.txt", "lamp-4": "lamp-4.csv.gz",
		`week 1\A.CSV`: "Week 1/a.csv", `week 2\a.csv`: `week 2\a.csv`, "lamp-9.csv": "lamp-9.csv"} {
		m, err := Read("lot.csv", dir, strings.NewReader("Serial No.,File name,lot\n,,\nx,"+written+",\n , , \n"), Options{})
		if err != nil || len(m.Entries) != 1 || m.Entries[0].Board != "x" || m.Entries[0].Capture != filepath.Join(dir, want) {
			t.Errorf("%q: %+v, %v", written, m, err)
			continue
		}
		notes := strings.Join(m.Notes, "\n")
		if found := written != want; strings.Contains(notes, "found under another case") != found || !strings.Contains(notes, `column "serial no." is taken as board`) {
			t.Errorf("%q: %q", written, notes)
		}
	}
	if _, err := Read("lot.csv", dir, strings.NewReader("serial,board,capture,file\n1,x,lamp-3.csv,lamp-9.csv\n"), Options{}); err != nil {
		t.Errorf("a column by its own name beside another: %v", err)
	}
}

func TestUnknownColumnIsSaid(t *testing.T) {
	m := read(t, "board,capture,colour\nlamp 1,one.csv,red\n")
	if len(m.Notes) != 1 || !strings.Contains(m.Notes[0], `lot.csv:1:15: column "colour"`) {
		t.Errorf("%v", m.Notes)
	}
}

// bench is a folder with the named files in it, each holding its own name.
func bench(t *testing.T, names ...string) string {
	t.Helper()
	dir := t.TempDir()
	for _, n := range names {
		if err := os.WriteFile(filepath.Join(dir, n), []byte(n), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func boards(m *Manifest) string {
	var out []string
	for _, e := range m.Entries {
		out = append(out, fmt.Sprintf("%s<%s", e.Board, filepath.Base(e.Capture)))
	}
	return strings.Join(out, " ")
}

func TestFolderAndPatterns(t *testing.T) {
	dir := bench(t, "lamp-2.csv", "lamp-1.csv.gz", "lamp-3.TXT", "photo.png", ".hidden.csv", "notes.pdf")
	if err := os.Mkdir(filepath.Join(dir, "old.csv"), 0o755); err != nil {
		t.Fatal(err)
	}
	m, err := Load(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := boards(m); got != "lamp-1<lamp-1.csv.gz lamp-2<lamp-2.csv lamp-3<lamp-3.TXT" {
		t.Error(got)
	}
	if len(m.Notes) != 2 || !strings.Contains(m.Notes[1], ".png") {
		t.Errorf("%v", m.Notes)
	}
	if m, err = Load(filepath.Join(dir, "lamp-[23].*"), Options{}); err != nil || boards(m) != "lamp-2<lamp-2.csv lamp-3<lamp-3.TXT" {
		t.Errorf("%v, %v", m, err)
	}
	if err := os.WriteFile(filepath.Join(dir, "manifest.csv"), []byte("board,capture\nlamp,lamp-?.*\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if m, err = Load(dir, Options{}); err != nil || boards(m) != "lamp<lamp-1.csv.gz lamp<lamp-2.csv lamp<lamp-3.TXT" {
		t.Errorf("%v, %v", m, err)
	}
	for _, bad := range []string{filepath.Join(dir, "none"), filepath.Join(dir, "none*"), bench(t, "photo.png"), filepath.Join(dir, "[")} {
		var e *acquire.Error
		if _, err := Load(bad, Options{}); !errors.As(err, &e) {
			t.Errorf("%s: %v", bad, err)
		}
	}
}

func TestFiles(t *testing.T) {
	if got := boards(Files([]string{"a/lamp-2.csv.gz", "lamp-1.txt", "odd.bin"})); got != "lamp-2<lamp-2.csv.gz lamp-1<lamp-1.txt odd.bin<odd.bin" {
		t.Error(got)
	}
}

func TestStandardInput(t *testing.T) {
	m, err := Load("-", Options{Input: strings.NewReader("board,capture\nlamp 1,one.csv\n")})
	if err != nil || boards(m) != "lamp 1<one.csv" || m.Entries[0].Capture != "one.csv" {
		t.Errorf("%v, %v", m, err)
	}
}

// Whatever the bytes: no panic, and either entries that all name a board and a capture, or faults with a line.
func FuzzRead(f *testing.F) {
	f.Add("board,capture,lot\nlamp 1,one.csv,7\n")
	f.Add("board;capture;readings\r\nx;y;R1=10k±1%\r\n")
	f.Add("board,capture,time\nx,\"y\nz\",2026-01-31\n")
	f.Add("\xff\xfeb\x00o\x00")
	f.Fuzz(func(t *testing.T, text string) {
		if isPattern(text) {
			t.Skip() // it would search this machine's disk
		}
		m, err := Read("lot.csv", ".", strings.NewReader(text), Options{Units: units})
		var e *acquire.Error
		switch {
		case err != nil && !errors.As(err, &e):
			t.Errorf("%v has no place", err)
		case err == nil:
			for _, e := range m.Entries {
				if e.Board == "" || e.Capture == "" || e.Line < 2 {
					t.Errorf("%+v", e)
				}
			}
		}
	})
}

func BenchmarkRead(b *testing.B) {
	text := "board,capture,lot,station,time,temperature,supply\n" + strings.Repeat("lamp 1234,captures/lamp-1234.csv,7,north,2026-01-31T14:05:00Z,23.5,5.02 V\n", 10000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read("lot.csv", ".", strings.NewReader(text), Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// A pipe among a folder's captures would wait for ever for somebody to write into it.
func TestFolderWithAPipe(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "a.csv"), []byte("0,1\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := exec.Command("mkfifo", filepath.Join(dir, "b.csv")).Run(); err != nil {
		t.Skip("no pipes here")
	}
	m, err := Load(dir, Options{})
	if err != nil || len(m.Entries) != 1 || len(m.Notes) != 1 || !strings.Contains(m.Notes[0], "pipes") {
		t.Errorf("%+v, %v", m, err)
	}
}

// FuzzDialects writes the same cells as any spreadsheet might: with each delimiter, line end, mark and encoding. They
// list the same boards, or none of them does.
func FuzzDialects(f *testing.F) {
	f.Add("lamp 1", "one.csv", "2026-01-31T14:05:00+01:00", "23.5 °C", "5.02 V ± 1 %", "R2=46.93k ± 0.3 %")
	f.Add("lamp, the \"second\"", "a;b.csv", "2026-01-31", "-10", "5", "R1=10k ± 1 %; C1 = 101n ± 1n (k=2)")
	f.Add("#", "x\ty", "", "NaN", "1e999 V", "=")
	f.Fuzz(func(t *testing.T, board, capture, at, temperature, supply, readings string) {
		cells := []string{board, capture, at, temperature, supply, readings}
		for i, c := range cells {
			if !utf8.ValidString(c) || isPattern(c) || strings.ContainsAny(c, "\x00\r\n\ufeff") {
				t.Skip("it would search this machine's disk, or is no text of one line")
			}
			cells[i] = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
		}
		header := []string{"board", "capture", "time", "temperature", "supply", "readings"}
		var first *Manifest
		var failed error
		for i, delimiter := range []string{",", ";", "\t"} {
			text := strings.Join(header, delimiter) + "\n" + strings.Join(cells, delimiter) + "\n"
			wide := utf16.Encode([]rune("\ufeff" + text))
			var little strings.Builder
			for _, u := range wide {
				little.WriteByte(byte(u))
				little.WriteByte(byte(u >> 8))
			}
			for k, form := range []string{text, strings.ReplaceAll(text, "\n", "\r\n"), strings.ReplaceAll(text, "\n", "\r"), "\ufeff" + text, "# a comment\n\n" + text, little.String()} {
				m, err := Read("lot.csv", ".", strings.NewReader(form), Options{Units: units})
				if m != nil {
					for e := range m.Entries {
						m.Entries[e].Line = 0 // a comment moves it
						for r := range m.Entries[e].Readings {
							m.Entries[e].Readings[r].At = acquire.Error{}
						}
					}
				}
				if i == 0 && k == 0 {
					first, failed = m, err
					continue
				}
				if (err == nil) != (failed == nil) || err == nil && !reflect.DeepEqual(m.Entries, first.Entries) {
					t.Fatalf("%q: %+v, %v\n%q: %+v, %v", strings.Join(cells, ","), first, failed, form, m, err)
				}
			}
		}
	})
}
