package cli

import (
	"os"
	"strings"
	"testing"
)

// --report writes a page beside the text, or in its place; the exit status stays the verdict's.
func TestReport(t *testing.T) {
	bench(t)
	for _, row := range []struct {
		args   string
		status int
		want   []string // texts that the page holds
	}{
		{"reconcile lamp.toml lamp-1.csv.gz", Done, []string{"<svg", `id="next-h"`, "lamp-1.csv.gz", "certifies nothing"}},
		{"reconcile lamp.toml lamp-2.csv.gz", OffTarget, []string{"<svg", ">fail<"}},
		{"predict lamp.toml", Done, []string{"<svg", "Nominal times and their bands"}},
		{"retune new-lamp.toml lamp-3.csv --target duty_factor=54.5%:4%", OffTarget, []string{"<svg", "What to fit", "R2: 47k", "Duty factor after the change"}},
		{"lot new-lamp.toml lot/manifest.csv --lot-size 150", OffTarget, []string{"<svg", "Operating characteristic", "lamp-13"}},
		{"reconcile bridge.toml bridge.csv", OffTarget, []string{"<svg", "Truth table", "Inputs and output"}},
		{"measure lamp-1.csv.gz", Done, []string{"<svg", "One averaged cycle"}},
		{"demo", Done, []string{"<svg"}},
	} {
		plain, _, _ := run(t, "", strings.Fields(row.args)...)
		stdout, stderr, status := run(t, "", append(strings.Fields(row.args), "--report", "page.html")...)
		if status != row.status || stdout != plain || stderr != "" {
			t.Errorf("%s: status %d, want %d; standard output changed: %v; standard error %q", row.args, status, row.status, stdout != plain, stderr)
		}
		page, err := os.ReadFile("page.html")
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range append(row.want, "<!DOCTYPE html>", "</html>") {
			if !strings.Contains(string(page), w) {
				t.Errorf("%s: the page lacks %q", row.args, w)
			}
		}
		os.Remove("page.html")
	}
	for args, want := range map[string]int{"predict lamp.toml": Done, "reconcile bridge.toml bridge.csv": OffTarget} {
		if stdout, _, status := run(t, "", append(strings.Fields(args), "--report", "-")...); !strings.HasPrefix(stdout, "<!DOCTYPE html>") || !strings.HasSuffix(stdout, "</html>\n") || status != want {
			t.Errorf("%s --report -: status %d, output begins %.40q", args, status, stdout)
		}
	}
	if _, stderr, status := run(t, "", "predict", "lamp.toml", "--report", "no/such/folder/page.html"); status != Failed || !strings.Contains(stderr, "page.html cannot be written") {
		t.Errorf("an unwritable page: status %d, %q", status, stderr)
	}
	if _, stderr, status := run(t, "", "predict", "lamp.toml", "--report", "-", "--csv", "-"); status != Usage || !strings.Contains(stderr, "standard output") {
		t.Errorf("two outputs for one: status %d, %q", status, stderr)
	}
}
