package page

import "testing"

// A number does not part from its unit at the end of a line; a count and its noun may.
func TestTied(t *testing.T) {
	const n = "\u00a0"
	for in, want := range map[string]string{
		"C1 about 122.7 nF, 23 % above its nominal 100 nF (78 %).": "C1 about 122.7" + n + "nF, 23" + n + "% above its nominal 100" + n + "nF (78" + n + "%).",
		"(4.88 ± 0.01) ms (sure)":                                  "(4.88" + n + "±" + n + "0.01)" + n + "ms (sure)",
		"R1 10 kΩ ± 1 %":                                           "R1 10" + n + "kΩ" + n + "±" + n + "1" + n + "%",
		"3 samples of 2 sets, 5 V":                                 "3 samples of 2 sets, 5" + n + "V",
		"5 % 3 % 1 s 2 µs 7 MHz 4 Hz":                              "5" + n + "% 3" + n + "% 1" + n + "s 2" + n + "µs 7" + n + "MHz 4" + n + "Hz",
	} {
		if got := tied(in); got != want {
			t.Errorf("%q\ngot  %q\nwant %q", in, got, want)
		}
	}
}
