package cli

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"offbeat/acquire/acquiretest"
)

// A prefix or a decade that is wrong in a design is named, and no part is proposed for it; a name that a ledger does not hold is said,
// with the one that comes near.
func TestSlipsOfTheUser(t *testing.T) {
	var text bytes.Buffer
	if err := acquiretest.Transitions(&text, acquiretest.Astable(math.Ln2*5.7e-3, math.Ln2*4.7e-3, 20), acquiretest.Form{}); err != nil {
		t.Fatal(err)
	}
	capture := filepath.Join(t.TempDir(), "lamp.csv")
	if err := os.WriteFile(capture, text.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	ledger := filepath.Join(t.TempDir(), "harbour.db")
	board := func(farad, target string) []string {
		return []string{"--circuit", "astable", "--family", "ideal", "--part", "R1=10k:1%", "--part", "R2=47k:1%", "--part", "C1=" + farad + ":5%", "--supply", "5V", "--target", "frequency=" + target + ":5%", capture}
	}
	const units, target, none = "the unit of the capture's time column", "The target's frequency is about 10 times what the design's own parts make", "No part is proposed before the unit or the prefix is put right."
	for _, c := range []struct {
		command, farad, target string
		says, not              []string
	}{
		{"retune", "100u", "138Hz", []string{units, none}, []string{"As drawn"}},
		{"retune", "100n", "150Hz", []string{"WHAT TO FIT"}, []string{units, none, "own parts make"}},
		{"reconcile", "100n", "1.38kHz", []string{target}, []string{units}},
		{"reconcile", "100n", "600Hz", nil, []string{"own parts make"}},
	} {
		stdout, stderr, _ := run(t, "", append([]string{c.command}, board(c.farad, c.target)...)...)
		text := strings.Join(strings.Fields(stdout), " ")
		for _, s := range c.says {
			if !strings.Contains(text, s) {
				t.Errorf("%s with %s, %s: %q is not said:\n%s%s", c.command, c.farad, c.target, s, stdout, stderr)
			}
		}
		for _, s := range c.not {
			if strings.Contains(text, s) {
				t.Errorf("%s with %s, %s: %q is said", c.command, c.farad, c.target, s)
			}
		}
	}
	design := board("100n", "1.38kHz")
	if stdout, _, _ := run(t, "", append([]string{"predict"}, design[:len(design)-1]...)...); !strings.Contains(strings.Join(strings.Fields(stdout), " "), target) {
		t.Errorf("predict says nothing of the target:\n%s", stdout)
	}
	stdout, stderr, _ := run(t, "", append([]string{"reconcile", "--ledger", ledger, "--json"}, board("100n", "138Hz")...)...)
	if strings.Contains(stdout, "00000000000") || strings.Contains(stdout, "\"prior_odds\": 0.99") {
		t.Errorf("odds to the last digit of a float64: %s%s", stdout, stderr)
	}
	for name, want := range map[string]string{"lam": `the ledger holds no board named "lam"; did you mean lamp?`, "lamp": ""} {
		if stdout, stderr, _ := run(t, "", "ledger", ledger, "--board", name); strings.Contains(stdout, "the ledger holds no") != (want != "") || !strings.Contains(stdout, want) {
			t.Errorf("%s: %s%s", name, stdout, stderr)
		}
	}
}
