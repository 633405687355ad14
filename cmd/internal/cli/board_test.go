package cli

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"strings"
	"testing"
)

// TestEvidenceInTheDesign: a design that names its evidence gives the bytes that the command line gives, from whichever
// folder it is asked.
func TestEvidenceInTheDesign(t *testing.T) {
	bench(t)
	design, err := os.ReadFile("lamp.toml")
	if err != nil {
		t.Fatal(err)
	}
	capture, err := os.ReadFile("lamp-2.csv.gz")
	if err != nil {
		t.Fatal(err)
	}
	digest := sha256.Sum256(capture)
	session := string(design) + `
[[evidence]]
capture = "lamp-2.csv.gz"
sha256 = "` + hex.EncodeToString(digest[:]) + `"
[[evidence]]
capture = "lamp-2-again.csv.gz"
with = ["R2 || 47.2k ± 1 %"]
[[evidence]]
reading = "supply = 5.02V ± 0.5 %"
[[evidence]]
reading = "C1 = 131n ± 1 %"
on = false
`
	write(t, "session.toml", session)
	typed, _, status := run(t, "", "reconcile", "lamp.toml", "lamp-2.csv.gz", "--with", "R2 || 47.2k ± 1 %", "lamp-2-again.csv.gz", "--reading", "supply=5.02V:0.5%", "--json")
	saved, stderr, again := run(t, "", "reconcile", "session.toml", "--json")
	if typed != saved || status != again || len(saved) < 1000 {
		t.Errorf("status %d and %d, %s\n%s", status, again, stderr, difference(typed, saved))
	}
	if here, _, _ := run(t, "", "reconcile", "session.toml", "lamp-2.csv.gz", "--json"); here == saved {
		t.Error("a capture on the command line does not take the place of the evidence")
	}
	for _, c := range []struct{ name, old, new, want string }{
		{"another file", hex.EncodeToString(digest[:])[:8], "00000000", "is not the file that was there when the evidence was saved"},
		{"no file", `"lamp-2.csv.gz"`, `"lamp-9.csv.gz"`, "lamp-9.csv.gz: no such file"},
		{"an unknown key", "with = [", "width = [", `session.toml:26:1: unknown key "width"; expected one of capture, sha256, with,`},
		{"a bad condition", "R2 || 47.2k", "R9 || 47.2k", `no part or node "R9"`},
		{"no truth value", "on = false", `on = "no"`, "on = no is neither true nor false"},
		{"neither", `reading = "C1 = 131n ± 1 %"`, "", "neither a capture, a reading nor a look"},
		{"both", `reading = "C1 = 131n ± 1 %"`, "capture = \"a\"\nreading = \"C1 = 1n ± 1 %\"", "neither a capture, a reading nor a look"},
		{"a reading of nothing", `"C1 = 131n ± 1 %"` + "\non = false", `"131n"`, "names nothing that was read"},
	} {
		text := strings.Replace(session, c.old, c.new, 1)
		if text == session {
			t.Fatalf("%s changes nothing", c.name)
		}
		write(t, "session.toml", text)
		stdout, stderr, _ := run(t, "", "reconcile", "session.toml")
		if !strings.Contains(strings.Join(strings.Fields(stdout+stderr), " "), c.want) {
			t.Errorf("%s: want %q in\n%s%s", c.name, c.want, stdout, stderr)
		}
	}
}

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
