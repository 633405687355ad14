package cli

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"

	"offbeat/compare"
)

// lotFiles writes a lot of lamps into the test's folder: a design, a manifest and a transition list a board, whose
// times are those of ideal lamps (ln 2 (R1+R2) C and ln 2 R2 C, SLFS022I p. 11) with parts near nominal. The
// boards named in odd have R2 so many times its value; those in cut are cut short.
func lotFiles(t testing.TB, boards int, c float64, odd map[int]float64, cut ...int) {
	t.Helper()
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("lot.toml", `title = "Harbour lamps"
circuit = "astable"
supply = "5 V ± 2 %"
history = "new"
[parts]
R1 = "10k ± 1 %"
R2 = "47k ± 1 %"
C1 = { value = "100n", tolerance = "10 %", kind = "film" }
[timer]
family = "ideal"
[target]
frequency = "138.7 Hz ± 12 %"
[instrument]
clock = "crystal"
`)
	manifest := "board,capture,lot,station,time,supply\n"
	for i := range boards {
		random := rand.New(rand.NewPCG(8, uint64(i)))
		r1, r2 := 10e3*(1+0.003*random.NormFloat64()), 47e3*(1+0.003*random.NormFloat64())
		if f, ok := odd[i+1]; ok {
			r2 *= f
		}
		now := c * (1 + 0.01*random.NormFloat64())
		high, low := math.Ln2*(r1+r2)*now, math.Ln2*r2*now
		name := fmt.Sprintf("lamp-%02d.csv", i+1)
		write(name, transitions(high, low, 40))
		for _, k := range cut {
			if k == i+1 {
				write(name, "Time[s],Output\n0.0000000,0\n0.0010000,1\n")
			}
		}
		manifest += fmt.Sprintf("lamp %d,%s,week 5,quay,2026-01-31T%02d:%02d:00Z,5.01 V\n", i+1, name, 8+i/60, i%60)
	}
	write("manifest.csv", manifest)
}

// transitions is a logic capture of a pulse train, times to 100 ns.
func transitions(high, low float64, cycles int) string {
	var b strings.Builder
	b.WriteString("Time[s],Output\n0.0000000,0\n")
	at := 1e-3
	for range cycles {
		fmt.Fprintf(&b, "%.7f,1\n%.7f,0\n", at, at+high)
		at += high + low
	}
	return b.String()
}

type lotDocument struct {
	Boards     []struct{ Board string }
	Acceptance struct {
		Result         string
		SampleSize     int `json:"sample_size"`
		Nonconforming  int
		Accept, Reject int
		Plan           struct{ Inspection string }
	}
	Count struct {
		Fail, Failed int
		Silent       int `json:"no_pulses"`
	}
	Silent []struct{ Board, Error string } `json:"no_pulses"`
	Parts  []struct {
		Name  string
		Shift struct{ Value float64 }
	}
	Outliers []string
	Failed   []struct{ Board, Error string }
	Warnings []string
}

func lotJSON(t *testing.T, wantStatus int, args ...string) lotDocument {
	t.Helper()
	out, stderr, status := run(t, "", append([]string{"lot", "lot.toml"}, args...)...)
	if status != wantStatus {
		t.Fatalf("%v: status %d, want %d\n%s", args, status, wantStatus, stderr)
	}
	var d lotDocument
	if err := json.Unmarshal([]byte(out), &d); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return d
}

// A lot whose reel of capacitors is low, with a board that stands out and one that can't be read, from the files
// to the decision, its status and every kind of output.
func TestLot(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 14, 86e-9, map[int]float64{7: 1.2}, 11)
	d := lotJSON(t, OffTarget, "manifest.csv", "--json")
	if len(d.Boards) != 13 || d.Boards[0].Board != "lamp 1" || d.Acceptance.Result != "reject" || d.Acceptance.SampleSize != 13 {
		t.Errorf("%+v", d)
	}
	if len(d.Outliers) != 1 || d.Outliers[0] != "lamp 7" || len(d.Failed) != 1 || d.Failed[0].Board != "lamp 11" || !strings.Contains(d.Failed[0].Error, "lamp-11.csv") {
		t.Errorf("%v %v", d.Outliers, d.Failed)
	}
	if p := d.Parts[2]; p.Name != "C1" || !(math.Abs(p.Shift.Value-math.Log(0.86)) <= 0.02) {
		t.Errorf("%+v", d.Parts)
	}
	text, _, _ := run(t, "", "lot", "lot.toml", "manifest.csv", "--csv", "lot.csv", "--report", "lot.html", "--workers", "1")
	if !strings.Contains(strings.Join(strings.Fields(text), " "), "the batch of C1 is") || !strings.Contains(text, "lamp 7") {
		t.Error(text)
	}
	first, err := os.ReadFile("lamp-01.csv")
	if err != nil {
		t.Fatal(err)
	}
	for name, lines := range map[string]int{"lot.csv": 15, "lot.html": 100} {
		b, err := os.ReadFile(name)
		if name == "lot.html" { // an auditor's questions
			for _, asked := range []string{fmt.Sprintf("%x", sha256.Sum256(first)), "quay", "2026-01-31 08:00", "guard band w = U", "Decided ", "SHA-256 "} {
				if !strings.Contains(strings.ReplaceAll(string(b), "<wbr>", ""), asked) {
					t.Errorf("the page lacks %s", asked)
				}
			}
		}
		if err != nil || strings.Count(string(b), "\n") < lines {
			t.Errorf("%s: %d lines, %v", name, strings.Count(string(b), "\n"), err)
		}
	}
	table, _, _ := run(t, "", "lot", "lot.toml", "manifest.csv", "--csv", "-", "--json")
	if !strings.HasPrefix(table, "board,lot,verdict,") || strings.Count(table, "\n") != 15 {
		t.Error(table)
	}
}

// Boards whose capture is flat were read and are nonconforming; a file that is missing leaves its board open. Neither
// method accepts such a lot.
func TestLotOfDeadBoards(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 24, 100e-9, nil)
	for i := range 8 {
		if err := os.WriteFile(fmt.Sprintf("lamp-%02d.csv", 3*i+1), []byte("Time[s],Output\n0.0000000,0\n0.0010000,0\n0.2000000,0\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, by := range []string{"attributes", "variables"} {
		d := lotJSON(t, OffTarget, "manifest.csv", "--json", "--by", by)
		if d.Acceptance.Result != "reject" || d.Count.Fail != 8 || d.Count.Silent != 8 || d.Count.Failed != 0 || len(d.Silent) != 8 || len(d.Boards) != 24 {
			t.Errorf("%s: %+v %+v", by, d.Acceptance, d.Count)
		}
	}
	lotFiles(t, 24, 100e-9, nil)
	if err := os.Remove("lamp-08.csv"); err != nil {
		t.Fatal(err)
	}
	if d := lotJSON(t, Undecided, "manifest.csv", "--json", "--by", "variables", "--inspection", "tightened"); d.Count.Failed != 1 || d.Acceptance.Result != "undecided" || d.Acceptance.Plan.Inspection != "tightened" {
		t.Errorf("%+v %+v", d.Acceptance, d.Count)
	}
}

// The statuses of a lot that is good, of one that is too small to tell, and of one without a target.
func TestLotStatus(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 16, 100e-9, nil)
	if d := lotJSON(t, Done, "manifest.csv", "--json"); d.Acceptance.Result != "accept" || d.Acceptance.Nonconforming != 0 {
		t.Errorf("%+v", d.Acceptance)
	}
	if d := lotJSON(t, Undecided, "lamp-*.csv", "--json", "--lot-size", "1000"); d.Acceptance.Result != "undecided" || len(d.Boards) != 16 || d.Boards[0].Board != "lamp-01" { // 80 asked for
		t.Errorf("%+v, %d boards", d.Acceptance, len(d.Boards))
	}
	if d := lotJSON(t, Undecided, "lamp-01.csv", "lamp-02.csv", "--json"); len(d.Boards) != 2 {
		t.Errorf("%d boards", len(d.Boards))
	}
	design, err := os.ReadFile("lot.toml")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("lot.toml", []byte(strings.Split(string(design), "[target]")[0]), 0o644); err != nil {
		t.Fatal(err)
	}
	if d := lotJSON(t, Done, ".", "--json"); len(d.Boards) != 16 { // by its manifest.csv
		t.Errorf("%d boards", len(d.Boards))
	}
}

// Two visits of a lot in one ledger; a run that is repeated adds nothing; a board's drift is that of its capacitor.
func TestLotLedger(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 3, 100e-9, nil)
	lotJSON(t, Undecided, "manifest.csv", "--json", "--ledger", "harbour.db")
	again := lotJSON(t, Undecided, "manifest.csv", "--json", "--ledger", "harbour.db")
	if !strings.Contains(strings.Join(again.Warnings, "\n"), "3 of the results stood in the ledger already") {
		t.Errorf("%q", again.Warnings)
	}
	lotFiles(t, 3, 101e-9, nil)
	later, err := os.ReadFile("manifest.csv")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("manifest.csv", []byte(strings.ReplaceAll(string(later), "2026-01-31", "2027-01-31")), 0o644); err != nil {
		t.Fatal(err)
	}
	lotJSON(t, Undecided, "manifest.csv", "--json", "--ledger", "harbour.db")
	out, stderr, status := run(t, "", "ledger", "harbour.db", "--board", "lamp 2", "--json")
	if status != Done {
		t.Fatal(status, stderr)
	}
	var l struct {
		Visits []struct{ Board, Verdict string }
		Drift  []struct {
			Quantity string
			Changes  []struct {
				Value       float64
				Significant bool
			}
		}
	}
	if err := json.Unmarshal([]byte(out), &l); err != nil {
		t.Fatal(err)
	}
	if len(l.Visits) != 2 || l.Visits[0].Board != "lamp 2" || l.Visits[0].Verdict != "pass" {
		t.Errorf("%+v", l.Visits)
	}
	for _, d := range l.Drift {
		if d.Quantity == "frequency" && (!(math.Abs(d.Changes[0].Value-(1/1.01-1)) <= 1e-5) || !d.Changes[0].Significant) {
			t.Errorf("%+v", d)
		}
	}
	for _, c := range []struct {
		args  string
		lines int // of the table, its header among them
	}{{"", 7}, {"--to 2026-01-31", 4}, {"--from 2026-02-01", 4}, {"--from 2026-01-31T08:01:00Z --to 2026-01-31T08:02:00Z", 2}, {"--lot none", 1}, {"--verdict pass --limit 2", 3}} {
		out, stderr, status := run(t, "", append([]string{"ledger", "harbour.db", "--all", "--csv", "-"}, strings.Fields(c.args)...)...)
		if status != Done || strings.Count(out, "\n") != c.lines {
			t.Errorf("%s: status %d, %d lines\n%s%s", c.args, status, strings.Count(out, "\n"), out, stderr)
		}
	}
}

// A board has one cause wherever it is written: in the lot's text, table and JSON, in the ledger that one run or three shares
// filled, and where it is judged again; what its own times say stays beside it.
func TestOneCauseABoard(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 14, 86e-9, map[int]float64{7: 1.25})
	direct, _, _ := run(t, "", "lot", "lot.toml", "manifest.csv", "--ledger", "one.db", "--csv", "lot.csv", "--json")
	for k := range 3 {
		run(t, "", "lot", "lot.toml", "manifest.csv", "--ledger", "three.db", "--shard", fmt.Sprint(k+1, "/3"))
	}
	shares, _, _ := run(t, "", "lot", "lot.toml", "--from", "three.db", "--ledger", "three.db", "--json")
	again, _, _ := run(t, "", "lot", "lot.toml", "manifest.csv", "--ledger", "one.db", "--json")
	type document struct {
		Boards []struct {
			Board, Finding string
			Causes         []compare.Cause
			Against        string `json:"causes_against"`
		}
		Standing []struct {
			Board string
			Cause compare.Cause
		} `json:"outlier_details"`
	}
	var all [3]document
	for i, text := range []string{direct, shares, again} {
		if err := json.Unmarshal([]byte(text), &all[i]); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(all[i], all[0]) {
			t.Errorf("%d: %+v\nwant %+v", i, all[i], all[0])
		}
	}
	odd := all[0].Boards[6]
	if c := odd.Causes[0]; len(all[0].Standing) != 1 || !reflect.DeepEqual(all[0].Standing[0].Cause, c) || odd.Against == "" || c.Parts[0] != "R2" || !strings.Contains(odd.Finding, c.Detail) ||
		strings.Contains(c.Detail, "nominal") || strings.Contains(c.Detail, "tolerance") {
		t.Errorf("%+v\n%+v", all[0].Standing, odd)
	}
	one := func(text string, columns ...int) (out string) {
		for line := range strings.Lines(text) {
			cells := strings.Split(strings.TrimSpace(line), ",")
			for _, k := range columns {
				out += cells[k] + " "
			}
		}
		return out
	}
	lot, err := os.ReadFile("lot.csv")
	if err != nil {
		t.Fatal(err)
	}
	want := one(string(lot), 0, 11, 12, 13)
	for _, name := range []string{"one.db", "three.db"} {
		kept, _, _ := run(t, "", "ledger", name, "--csv", "-")
		if got := one(kept, 1, 14, 15, 16); got != want || !strings.Contains(got, "lamp 7 shifted R2 ") {
			t.Errorf("%s: %s\nwant\n%s", name, got, want)
		}
		both, _, _ := run(t, "", "ledger", name, "--all", "--csv", "-")
		if n := strings.Count(both, "\n"); n != 16 {
			t.Errorf("%s: %d lines\n%s", name, n, both)
		}
	}
	text, _, _ := run(t, "", "lot", "lot.toml", "manifest.csv", "--boards")
	if listed, _, _ := run(t, "", "ledger", "one.db"); strings.Count(text, "R2 unlike the others'") != 2 || strings.Count(listed, "R2 unlike the others'") != 1 {
		t.Errorf("%s\n%s", text, listed)
	}
	// What one command kept the other does not work out again, and says so.
	single := []string{"reconcile", "lot.toml", "lamp-01.csv", "--ledger", "two.db", "--board", "lamp 1"}
	run(t, "", single...)
	if err := os.WriteFile("two.csv", []byte("board,capture\nlamp 1,lamp-01.csv\nlamp 2,lamp-02.csv\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if out, _, _ := run(t, "", "lot", "lot.toml", "two.csv", "--ledger", "two.db"); !strings.Contains(out, "1 of the results stood in the ledger already") {
		t.Error(out)
	}
	single[2], single[6] = "lamp-02.csv", "lamp 2"
	out, stderr, _ := run(t, "", single...)
	if !strings.Contains(stderr, "1 of the results stood in the ledger already") || !strings.Contains(out, "offbeat lot kept this result") || strings.Contains(out, "NEXT") || !strings.Contains(out, "C1  100 nF ± 10 %") {
		t.Error(stderr, out)
	}
}

// Boards whose line names no lot are of the lot that --lot names; the others stay where they are.
func TestLotIsNamed(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 3, 100e-9, nil)
	if err := os.WriteFile("few.csv", []byte("board,capture,lot\nlamp 1,lamp-01.csv,\nlamp 2,lamp-02.csv,week 4\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, stderr, status := run(t, "", "lot", "lot.toml", "few.csv", "--ledger", "few.db", "--lot", "week 6", "--quiet"); status != Undecided {
		t.Fatal(status, stderr)
	}
	for board, lot := range map[string]string{"lamp 1": "week 6", "lamp 2": "week 4"} {
		if out, stderr, _ := run(t, "", "ledger", "few.db", "--board", board, "--json"); !strings.Contains(out, fmt.Sprintf(`"lot":%q`, lot)) {
			t.Errorf("%s is not of %s: %s%s", board, lot, out, stderr)
		}
	}
}

// A lot in a ledger is judged without its captures as with them, whether one run filled the ledger or three shares did; and
// a single board is put in by reconcile.
func TestLotFrom(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 7, 100e-9, map[int]float64{3: 1.3})
	part := func(text string) map[string]any {
		var d map[string]any
		if err := json.Unmarshal([]byte(text), &d); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		return map[string]any{"acceptance": d["acceptance"], "capability": d["capability"], "parts": d["parts"], "boards": len(d["boards"].([]any))}
	}
	want, _, _ := run(t, "", "lot", "lot.toml", "manifest.csv", "--json", "--ledger", "one.db", "--decided-by", "KL")
	for k := range 3 {
		out, stderr, status := run(t, "", "lot", "lot.toml", "manifest.csv", "--ledger", "three.db", "--shard", fmt.Sprint(3-k, "/3"))
		if status != Done || !strings.Contains(out, fmt.Sprintf("Share %d/3", 3-k)) {
			t.Fatal(status, out, stderr)
		}
	}
	for _, name := range []string{"one.db", "three.db"} {
		got, stderr, _ := run(t, "", "lot", "lot.toml", "--from", name, "--lot", "week 5", "--json")
		if !reflect.DeepEqual(part(got), part(want)) {
			t.Errorf("%s: %s\n%s\nwant\n%s", name, stderr, got, want)
		}
	}
	for _, key := range []string{`"version"`, `"at"`, `"design_sha256"`, `"plan"`, `"stations": [`, `"operators"`, `"decided_by": "KL"`, `"sha256"`} {
		if !strings.Contains(want, key) {
			t.Errorf("the document lacks %s:\n%s", key, want)
		}
	}
	board := []string{"reconcile", "lot.toml", "lamp-05.csv", "--ledger", "one.db", "--board", "lamp 5", "--lot", "week 5", "--quiet", "--invert"}
	if _, stderr, status := run(t, "", board...); status == Usage || status == Failed {
		t.Fatal(stderr)
	}
	for _, form := range [][]string{{"--quiet"}, nil, {"--json"}} {
		args := append([]string{"reconcile", "lot.toml", "lamp-05.csv", "--ledger", "single.db", "--board", fmt.Sprint("lamp ", form)}, form...)
		first, _, _ := run(t, "", args...)
		again, stderr, _ := run(t, "", args...)
		if first != again || !strings.Contains(stderr, "1 of the results stood in the ledger already") {
			t.Errorf("what stands in the ledger was not printed as it was: %s\n%s\nwant\n%s", stderr, again, first)
		}
		if full, _, _ := run(t, "", append(args[:7:7], "--json")...); !strings.Contains(full, `"allan_deviation"`) {
			t.Errorf("%v: what was kept without how the times ran was printed as if it were all:\n%s", form, full)
		}
	}
	out, stderr, _ := run(t, "", "ledger", "one.db", "--board", "lamp 5", "--json")
	var l struct {
		Visits []struct {
			Options    map[string]any
			Superseded string `json:"superseded_by"`
			Decision   struct {
				By string `json:"decided_by"`
			}
			Captures []struct{ SHA256 string }
		}
	}
	if err := json.Unmarshal([]byte(out), &l); err != nil || len(l.Visits) != 2 || (l.Visits[0].Superseded == "") == (l.Visits[1].Superseded == "") {
		t.Fatalf("%v %s %s", err, stderr, out)
	}
	for _, v := range l.Visits {
		if (v.Superseded == "") != (v.Options["invert"] == true) || v.Decision.By != "KL" || len(v.Captures[0].SHA256) != 64 {
			t.Errorf("%+v", v)
		}
	}
	for _, c := range []struct {
		args, says string
		status     int
	}{
		{"ledger show one.db|lamp 3", "DECISION ON ITS LOT", Done},
		{"ledger show one.db|lamp 3|--json", `"designs": {`, Done},
		{"ledger show one.db|lamp 30", "no result of this board", Failed},
		{"ledger check one.db", "9 results, 0 faults", Done},
		{"ledger send three.db|four.db", "7 results sent to four.db, 0 stood there already", Done},
		{"ledger send three.db|four.db", "0 results sent to four.db, 7 stood there already", Done},
		{"ledger migrate four.db", "up to date", Done},
		{"ledger found|lamp 3|--cause|shifted|--part|R2|--ledger|one.db", "lamp 3: shifted R2 recorded", Done},
		{"ledger found|lamp 3|--cause|shifted|--part|R9|--ledger|one.db", "no part of that name", Usage},
		{"ledger found|lamp 3|--cause|luck|--ledger|one.db", "expected one of", Usage},
		{"ledger found|lamp 3|--cause|shifted|--ledger|one.db", "as many parts as it concerns: 1 or 2", Usage},
		{"ledger odds one.db", "shifted.R2 = ", Done},
		{"ledger odds one.db|--json", `"stated_against_found"`, Done},
		{"ledger odds three.db", "no repair is recorded", Failed},
		{"lot lot.toml|--from|three.db|--lot|week 5|--quiet", "The lot is not accepted", OffTarget},
		{"lot lot.toml|--from|one.db|--lot|week 6", "no result of the lot", Failed},
		{"lot lot.toml|--from|one.db|--part|R1=12k:1%", "of another design", Failed},
		{"lot lot.toml|--from|one.db|manifest.csv", "no MANIFEST", Usage},
		{"lot lot.toml|manifest.csv|--shard|3/16", "--ledger", Usage},
		{"lot lot.toml|manifest.csv|--ledger|one.db|--shard|0/3", "K/N", Usage},
	} {
		args := strings.Split(c.args, "|")
		args = append(strings.Fields(args[0]), args[1:]...)
		stdout, stderr, status := run(t, "", args...)
		if status != c.status || !strings.Contains(stdout+stderr, c.says) {
			t.Errorf("%s: status %d, want %d; lacks %q\n%s%s", c.args, status, c.status, c.says, stdout, stderr)
		}
	}
	design, err := os.ReadFile("lot.toml")
	if err != nil {
		t.Fatal(err)
	}
	learned, _, _ := run(t, "", "ledger", "odds", "one.db") // goes into a design as it is printed
	if err := os.WriteFile("learned.toml", []byte(string(design)+learned), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, stderr, status := run(t, "", "predict", "learned.toml"); status != Done || !strings.Contains(learned, "two_shifted = ") {
		t.Errorf("%s\n%s", stderr, learned)
	}
}

// Where the ledger fails while a table is written, the ledger is blamed and not the table.
func TestLedgerIsBlamed(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 2, 100e-9, nil)
	_, stderr, status := run(t, "", "lot", "lot.toml", "manifest.csv", "--csv", "table.csv", "--ledger", "none/x.db")
	if status != Failed || strings.Contains(stderr, "table.csv") || !strings.Contains(stderr, "ledger none/x.db") {
		t.Error(status, stderr)
	}
}

// A fault of the work that fills a file is not the file's: it comes back as it is, and what was there stays.
func TestWhoIsBlamed(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("there.csv", []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	work := errors.New("the work failed")
	s, _, _ := buffered("")
	for _, name := range []string{"new.csv", "there.csv", "-"} {
		if err := writeText(name, s, func(w io.Writer) error {
			if _, err := io.WriteString(w, "half"); err != nil {
				return err
			}
			return work
		}); err != work {
			t.Errorf("%s: %v", name, err)
		}
	}
	if b, err := os.ReadFile("there.csv"); string(b) != "old" {
		t.Errorf("%q, %v", b, err)
	}
	if err := writeText("none/new.csv", s, func(io.Writer) error { return nil }); err == nil || !strings.Contains(err.Error(), "none/new.csv cannot be written") {
		t.Error(err)
	}
	s.Out = full{}
	if err := writeText("-", s, func(w io.Writer) error { _, err := io.WriteString(w, "x"); return err }); err == nil || !strings.Contains(err.Error(), "the result cannot be printed") {
		t.Error(err)
	}
}

func TestLotUsage(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 2, 100e-9, nil)
	if err := os.WriteFile("text.db", []byte("board,capture\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args   string
		status int
		says   string
	}{
		{"lot", Usage, "the design is missing"},
		{"lot lot.toml", Usage, "the boards are missing"},
		{"lot --circuit bistable manifest.csv", Usage, "keeps no time"},
		{"lot lot.toml none.csv", Failed, "none.csv"},
		{"lot lot.toml lot.toml", Failed, "lot.toml:1"},
		{"lot lot.toml manifest.csv --aql 1.1", Usage, "AQL"},
		{"lot lot.toml manifest.csv --inspection strict", Usage, "normal, tightened, reduced"},
		{"lot lot.toml manifest.csv --by luck", Usage, "attributes, variables"},
		{"lot lot.toml manifest.csv --lot-size 1", Usage, "lot size is 1"},
		{"lot lot.toml manifest.csv --lot-size -1", Usage, "0 or more"},
		{"lot lot.toml manifest.csv --level-of-inspection IV", Usage, "inspection level"},
		{"lot lot.toml manifest.csv --ledger none/x.db", Failed, "ledger"},
		{"lot lot.toml manifest.csv --ledger text.db", Failed, "this is no ledger"},
		{"ledger", Usage, "expected one LEDGER"},
		{"ledger none.db", Failed, "there is no such ledger"},
		{"ledger none.db --from soon", Usage, "ISO 8601"},
		{"ledger none.db --verdict maybe", Usage, "pass, fail"},
		{"ledger none.db --limit -1", Usage, "0 or more"},
	} {
		stdout, stderr, status := run(t, "", strings.Fields(c.args)...)
		if status != c.status || !strings.Contains(stderr, c.says) || stdout != "" {
			t.Errorf("%s: status %d, want %d; %q lacks %q", c.args, status, c.status, stderr, c.says)
		}
	}
	if _, err := os.Stat("none.db"); err == nil {
		t.Error("looking made a ledger")
	}
}

// BenchmarkLot works through boards of 1 MB each, all results written as JSON lines and to a table on disk, with
// progress as on a terminal. Boards share 50 captures, by hard links. OFFBEAT_BOARDS sets the number of boards:
//
//	OFFBEAT_BOARDS=10000 go test -run '^$' -bench BenchmarkLot -benchtime 1x -timeout 2h ./cmd/internal/cli
func BenchmarkLot(b *testing.B) {
	boards := 16
	if n, err := strconv.Atoi(os.Getenv("OFFBEAT_BOARDS")); err == nil && n > 0 {
		boards = n
	}
	dir := b.TempDir()
	b.Chdir(dir)
	lotFiles(b, 1, 100e-9, nil)
	if err := os.Mkdir("captures", 0o755); err != nil {
		b.Fatal(err)
	}
	const different = 50
	name := func(i int) string { return filepath.Join("captures", fmt.Sprintf("lamp-%05d.csv", i)) }
	size := int64(0)
	for i := range boards {
		var err error
		if i < different {
			err = os.WriteFile(name(i), []byte(sampled(6.9e-3*(1+0.02*math.Sin(float64(i))), 57, 62000)), 0o644)
		} else {
			err = os.Link(name(i%different), name(i))
		}
		if err != nil {
			b.Fatal(err)
		}
		info, err := os.Stat(name(i))
		if err != nil {
			b.Fatal(err)
		}
		size += info.Size()
	}
	out, err := os.Create("lot.json")
	if err != nil {
		b.Fatal(err)
	}
	defer out.Close()
	b.SetBytes(size)
	b.ReportAllocs()
	for b.Loop() {
		s, _, stderr := buffered("")
		s.Out, s.ErrTerminal = out, true
		if status := Main([]string{"lot", "lot.toml", "captures", "--json", "--csv", "lot.csv"}, s); status != Done && status != Undecided {
			b.Fatal(status, stderr)
		}
		told := strings.Split(stderr.String(), "\r")
		if boards >= 1000 {
			if len(told) < 4 || !strings.Contains(told[len(told)/2], fmt.Sprintf(" of %d boards", boards)) {
				b.Errorf("no progress was told: %q", stderr)
			}
			b.Logf("progress: %s", told[len(told)/2])
		}
	}
	b.ReportMetric(float64(boards)*float64(b.N)/b.Elapsed().Seconds(), "boards/s")
	if mb := peakResident(); mb > 0 {
		b.ReportMetric(mb, "MB-peak-RSS")
	}
}

// peakResident is the process's largest resident set so far, MB; nought where the system does not tell.
func peakResident() float64 {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	var kb float64
	_, after, _ := strings.Cut(string(status), "VmHWM:")
	if _, err := fmt.Sscan(after, &kb); err != nil {
		return 0
	}
	return kb * 1024 / 1e6
}

// sampled is a table of time and volt of a pulse train with that period.
func sampled(period float64, cycles, rows int) string {
	var b strings.Builder
	b.WriteString("Time (s),Output (V)\n")
	step := period * float64(cycles) / float64(rows)
	random := rand.New(rand.NewPCG(8, 41))
	for k := range rows {
		at := step * float64(k)
		v := 0.1
		if _, f := math.Modf(at/period + 0.3); f < 57./104 {
			v = 3.5
		}
		fmt.Fprintf(&b, "%.7f,%.3f\n", at, v+0.01*random.NormFloat64())
	}
	return b.String()
}
