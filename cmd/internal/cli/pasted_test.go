package cli

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"offbeat/compare/report"
)

// TestPastedTwice: a file that was pasted behind itself tells no more than once, and says so; two records of one board do.
func TestPastedTwice(t *testing.T) {
	rows := func(shift int) string {
		var b strings.Builder
		for i := range 60 {
			at := i*7271 + (i*i*shift)%5
			fmt.Fprintf(&b, "%d,1\n%d,0\n", at, at+3965)
		}
		return b.String()
	}
	measure := func(text string) *report.Measurement {
		file := filepath.Join(t.TempDir(), "capture.csv")
		if err := os.WriteFile(file, []byte("time_us,level\n"+text), 0o600); err != nil {
			t.Fatal(err)
		}
		s, out, errs := buffered("")
		if code := Main([]string{"measure", "--json", file}, s); code != 0 {
			t.Fatal(code, errs)
		}
		m := new(report.Measurement)
		if err := json.Unmarshal([]byte(out.String()), m); err != nil {
			t.Fatal(err)
		}
		return m
	}
	once, twice, two := measure(rows(3)), measure(rows(3)+rows(3)), measure(rows(3)+rows(7))
	if len(twice.Captures) != 1 || twice.Measured.Period.Uncertainty != once.Measured.Period.Uncertainty || !strings.Contains(strings.Join(twice.Warnings, " "), "or was pasted twice") {
		t.Errorf("pasted twice: %d captures, %v", len(twice.Captures), twice.Warnings)
	}
	if len(two.Captures) != 2 {
		t.Errorf("two records of one board: %d captures, %v", len(two.Captures), two.Warnings)
	}
}

// TestWhatWasReadIsSaidBesideTheFinding: what the reading of a capture warns of stands in every answer that rests on it.
func TestWhatWasReadIsSaidBesideTheFinding(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "capture.csv")
	rows := ""
	for i := range 60 {
		rows += fmt.Sprintf("%d,1\n%d,0\n", i*8958+i*i*3%5, i*8958+i*i*3%5+4880)
	}
	if err := os.WriteFile(file, []byte("time_us,level\n"+rows+rows), 0o600); err != nil {
		t.Fatal(err)
	}
	for command, on := range map[string]string{"reconcile": file, "retune": file, "lot": dir} {
		args := strings.Fields(command + " --json --circuit astable --family ideal --supply 5V --part R1=10k:1% --part R2=47k:1% --part C1=100n:10% --target frequency=138Hz:12% " + on)
		if stdout, stderr, _ := run(t, "", args...); !strings.Contains(stdout, "or was pasted twice") {
			t.Errorf("%s does not say that the capture was pasted twice: %s %s", command, stdout, stderr)
		}
	}
}

// TestNamedUnderTwoConditions: a file that is named again under a condition is no paste: what it says of the condition counts.
func TestNamedUnderTwoConditions(t *testing.T) {
	t.Chdir(t.TempDir())
	rows := ""
	for i := range 60 {
		rows += fmt.Sprintf("%d,1\n%d,0\n", i*7271+i*i*3%5, i*7271+i*i*3%5+3965)
	}
	if err := os.WriteFile("capture.csv", []byte("time_us,level\n"+rows), 0o600); err != nil {
		t.Fatal(err)
	}
	board := strings.Fields("reconcile --json --circuit astable --family ideal --part R1=10k:1% --part R2=47k:1% --part C1=100n:10% --supply 5V capture.csv")
	for condition, captures := range map[string]int{"": 1, "R2 || 47k ± 1 %": 2} {
		args := slices.Clone(board)
		if condition != "" {
			args = append(args, "--with", condition)
		}
		stdout, stderr, _ := run(t, "", append(args, "capture.csv")...)
		var f struct{ Captures []struct{} }
		if err := json.Unmarshal([]byte(stdout), &f); err != nil {
			t.Fatal(err, stderr)
		}
		if len(f.Captures) != captures || strings.Contains(stdout, "or was pasted twice") != (captures == 1) {
			t.Errorf("%q: %d captures: %.300s", condition, len(f.Captures), stdout)
		}
	}
}

// TestFewCyclesNamedTwice: five cycles that are alike to the last digit are one record where their times differ among themselves, and may be
// two where a counter of whole microseconds met the same ones.
func TestFewCyclesNamedTwice(t *testing.T) {
	t.Chdir(t.TempDir())
	for counts, captures := range map[int]int{0: 2, 7: 1} {
		rows := ""
		for i := range 6 {
			rows += fmt.Sprintf("%d,1\n%d,0\n", i*7271+counts*(i*i%5), i*7271+counts*(i*i%5)+3965+counts*(i*i%3))
		}
		if err := os.WriteFile("capture.csv", []byte("time_us,level\n"+rows), 0o600); err != nil {
			t.Fatal(err)
		}
		stdout, stderr, _ := run(t, "", "measure", "--json", "capture.csv", "capture.csv")
		var f struct{ Captures []struct{} }
		if err := json.Unmarshal([]byte(stdout), &f); err != nil {
			t.Fatal(err, stderr)
		}
		if len(f.Captures) != captures {
			t.Errorf("times that differ by %d: %d captures, want %d", counts, len(f.Captures), captures)
		}
	}
}
