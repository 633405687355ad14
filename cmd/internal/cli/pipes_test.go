package cli

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// What comes through a pipe is gone once it was read: with a ledger too it is read whole, and what one pipe showed is never
// printed or kept for what another did.
func TestLedgerTakesPipes(t *testing.T) {
	t.Chdir(t.TempDir())
	lotFiles(t, 4, 100e-9, map[int]float64{3: 1.3})
	piped := func(name string) string {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		r, w, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { r.Close() })
		go func() {
			w.Write(text)
			w.Close()
		}()
		return fmt.Sprintf("/dev/fd/%d", r.Fd())
	}
	if _, err := os.Stat("/dev/fd"); err != nil {
		t.Skip("no pipe has a name here: ", err)
	}
	keep := func(args ...string) string {
		out, stderr, status := run(t, "", append(append([]string{"reconcile", "lot.toml"}, args...), "--ledger", "pipes.db", "--board", "lamp", "--quiet")...)
		if status == Usage || status == Failed {
			t.Fatal(stderr)
		}
		return out
	}
	for _, name := range []string{"lamp-01.csv", "lamp-03.csv"} {
		want, _, _ := run(t, "", "reconcile", "lot.toml", name, "--quiet")
		if got := keep(piped(name)); got != want {
			t.Errorf("%s through a pipe: %q, want %q", name, got, want)
		}
		text, _, status := run(t, "", "reconcile", "lot.toml", name, "--json")
		if status == Failed || os.WriteFile(name+".json", []byte(text), 0o644) != nil {
			t.Fatal(text)
		}
	}
	for _, name := range []string{"lamp-03.csv.json", "lamp-01.csv.json"} {
		want, _, _ := run(t, "", "reconcile", "lot.toml", "lamp-03.csv", "--baseline", name, "--quiet")
		if got := keep("lamp-03.csv", "--baseline", piped(name)); got != want {
			t.Errorf("since %s through a pipe: %q, want %q", name, got, want)
		}
	}
	text, read := []string{}, func(name string) string { b, _ := os.ReadFile(name); return string(b) }
	for _, name := range []string{"lamp-01.csv", "lamp-03.csv"} {
		_, stderr, _ := run(t, read(name), "reconcile", "lot.toml", "-", "--ledger", "input.db", "--board", "lamp", "--quiet")
		text = append(text, stderr)
	}
	if all := strings.Join(text, ""); strings.Contains(all, "stood in the ledger already") {
		t.Errorf("another board through standard input was not kept: %s", all)
	}
}
