package stability

import (
	"math"
	"strconv"
	"testing"

	"offbeat/acquire/acquiretest/expect"
)

// NIST StRD univariate sets: certified mean, standard deviation and lag-1 autocorrelation. 1e-12, but where the
// data themselves, as doubles, do not hold more: NumAcc3 1e-9 and NumAcc4 1e-8 in the deviation, 1e-10 in lag 1.
func TestStRDUnivariate(t *testing.T) {
	n := 0
	for _, row := range expect.Rows(t, "nist_strd/univariate/certified.csv") {
		var y []float64
		for _, v := range expect.Rows(t, "nist_strd/univariate/"+row[0]+".csv") {
			y = append(y, expect.Number(t, v[0]))
		}
		s := Summarise(y)
		deviation := map[string]float64{"NumAcc3": 1e-9, "NumAcc4": 1e-8}[row[0]]
		expect.Near(t, row[0]+" mean", s.Mean, expect.Number(t, row[3]), 1e-12)
		expect.Near(t, row[0]+" deviation", s.Deviation, expect.Number(t, row[4]), max(deviation, 1e-12))
		expect.Near(t, row[0]+" lag 1", s.Lag, expect.Number(t, row[5]), 1e-10)
		n++
	}
	if n != 9 {
		t.Errorf("%d sets read, want 9", n)
	}
}

// NIST SP 1065 section 12.4, tables 30 and 31: the nine-point and the 1000-point suite, to the seven printed
// digits (5e-7).
func TestAllanSuite(t *testing.T) {
	sets := map[string][]float64{"nbs9": {892, 809, 823, 798, 671, 644, 883, 903, 677}}
	n := uint64(1234567890)
	for range 1000 {
		sets["lcg1000"] = append(sets["lcg1000"], float64(n)/2147483647)
		n = 16807 * n % 2147483647
	}
	statistics := map[string]statistic{"oadev": Overlapping, "ohdev": OverlappingHadamard}
	checked := 0
	for _, row := range expect.Rows(t, "allan_sp1065.csv") {
		s, ok := statistics[row[1]]
		if !ok {
			continue // what nothing here states
		}
		m, err := strconv.Atoi(row[2])
		if err != nil {
			t.Fatal(err)
		}
		expect.Near(t, row[0]+" "+row[1]+" "+row[2], Of(s, sets[row[0]], m).Value, expect.Number(t, row[3]), 5e-7)
		checked++
	}
	if checked < 10 {
		t.Errorf("%d figures checked, want 10 or more", checked)
	}
	for i, y := range sets["lcg1000"] { // a constant has no say, however large beside what scatters
		sets["lcg1000"][i] = y + 1<<20
	}
	expect.Near(t, "beside a constant", Of(Overlapping, sets["lcg1000"], 1).Value, 2.922319e-1, 5e-7)
	if d := Of(Overlapping, sets["nbs9"], 6); d.Terms != 0 || !math.IsNaN(d.Value) {
		t.Errorf("an averaging time too long for the data gives %+v", d)
	}
}
