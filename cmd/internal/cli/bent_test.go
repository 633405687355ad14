package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"offbeat/compare"
)

// TestBentChannelLeavesTheTimes: a capacitor's channel that bends the wrong way is left out and said to be; what the output alone says
// stands. Where the channels are exchanged it is refused.
func TestBentChannelLeavesTheTimes(t *testing.T) {
	reconciled := func(run func(x float64) float64, flags ...string) (*compare.Finding, int, string) {
		var b strings.Builder
		b.WriteString("time_us,out,cap\n")
		for i := range 1400 {
			out, x := 5., float64(i%129)/70
			cap := run(x)
			if x >= 1 {
				out, cap = 0, 5-run(float64(i%129-70)/59)
			}
			fmt.Fprintf(&b, "%d,%.2f,%.3f\n", i*64, out, cap+0.004*float64(i*i%7-3))
		}
		file := filepath.Join(t.TempDir(), "capture.csv")
		if err := os.WriteFile(file, []byte(b.String()), 0o600); err != nil {
			t.Fatal(err)
		}
		s, out, errs := buffered("")
		args := "reconcile --json --circuit astable --part R1=10k:1% --part R2=47k:1% --part C1=100n:10% " + file
		code := Main(append(strings.Fields(args), flags...), s)
		f := new(compare.Finding)
		if err := json.Unmarshal([]byte(out.String()), f); code == 0 && err != nil {
			t.Fatal(err)
		}
		return f, code, errs.String()
	}
	wrong := func(x float64) float64 { return 1.7 + 1.6*x*(0.7+0.3*x) }
	alone, _, _ := reconciled(wrong, "--channel", "out")
	bent, code, errs := reconciled(wrong, "--channel", "out=out", "--channel", "cap=cap")
	if code != 0 || bent.Waveform != nil || len(bent.Causes) == 0 || bent.Causes[0].Probability != alone.Causes[0].Probability || *bent.Measured.High != *alone.Measured.High {
		t.Errorf("status %d (%s), waveform %v, %v; the times alone say %v", code, errs, bent.Waveform, bent.Causes, alone.Causes)
	}
	if said := strings.Join(bent.Warnings, " "); !strings.Contains(said, "left out") || !strings.Contains(said, "exponential") {
		t.Errorf("warnings: %q", said)
	}
	if _, code, _ := reconciled(func(x float64) float64 { return 5 - 3.3*math.Exp(-0.66*x) }, "--channel", "out=cap", "--channel", "cap=out"); code != 3 {
		t.Errorf("exchanged channels: status %d, want 3", code)
	}
}
