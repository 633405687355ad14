package scan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// TestVectorIsTheLoop: on each kind of row, whole and with any byte in any place of it, the vector reads the rows that
// the plain loop reads, to the last bit, and stops where that stops.
func TestVectorIsTheLoop(t *testing.T) {
	if !hasVector {
		t.Skip("no vectors on this machine")
	}
	r := rand.New(rand.NewPCG(7, 8))
	forms := []string{"%.7e,%.6e\n", "%.7f,%.4f\n", "%.6f,%.6f\r\n", "%.7e,%.1e,\n", "%.9f,%.3f\n", "%.4f,-%.0f\n"}
	read := 0
	for _, form := range forms {
		for _, from := range []float64{-99, -0.5, 0, 12, 7000} {
			var rows []string
			for i := range 40 {
				rows = append(rows, fmt.Sprintf(form, from+float64(i)*2e-3, noisy(r, i+1980)))
			}
			read += compareVector(t, form, rows)
			for at := range len(rows[9]) {
				for c := range 256 {
					whole := rows[9]
					rows[9] = whole[:at] + string([]byte{byte(c)}) + whole[at+1:]
					compareVector(t, form, rows)
					rows[9] = whole
				}
			}
		}
	}
	if read < 20*30 {
		t.Errorf("only %d rows came to the loops", read)
	}
}

// compareVector reads rows with both loops from the fourth row on, and returns how many they took.
func compareVector(t *testing.T, form string, rows []string) int {
	t.Helper()
	l := &layouts[0]
	text, end := pad(strings.Join(rows, ""))
	var r Rows
	r.reset(l, len(rows))
	p := &r.template
	p.learn(l, text, 0)
	if !p.learned || p.stated || p.timeSize > vectorTime {
		return 0
	}
	pos := p.rows(text, 0, end, &r, 3)
	if r.N < 3 || !p.foretell(text[p.last:], &r) {
		return 0
	}
	limit := min(p.run.left, len(rows))
	a, b := make([]float64, limit), make([]float64, limit)
	plain := *p
	k, after, last := plain.foretoldLevels(text, pos, end, a)
	vk, vafter, vlast := p.vectorLevels(text, pos, end, b)
	if k != vk || after != vafter || last != vlast {
		t.Fatalf("%q: %d rows to %d, last at %d; the vector %d to %d, last at %d: %q", form, k, after, last, vk, vafter, vlast, rows[9])
	}
	for i := range k {
		if math.Float64bits(a[i]) != math.Float64bits(b[i]) {
			t.Fatalf("%q: level %v, the vector %v", form, a[i], b[i])
		}
	}
	return k
}

// TestVectorStatesAreTheLoop is the same for uneven times with a state.
func TestVectorStatesAreTheLoop(t *testing.T) {
	if !hasVector {
		t.Skip("no vectors on this machine")
	}
	r := rand.New(rand.NewPCG(8, 9))
	read := 0
	for _, form := range []string{"%.9f,%d\n", "%.6f,%d\r\n", "%.0f,%d\n", "%.7e,%d,\n", "%.1f,%d,,\r\n"} {
		for _, from := range []float64{-99, -0.5, 0, 12, 7000} {
			var rows []string
			x := from
			for i := range 40 {
				x += 1e-3 + 1.5*r.Float64()
				rows = append(rows, fmt.Sprintf(form, x, i%2))
			}
			read += compareStates(t, form, rows)
			for at := range len(rows[9]) {
				for c := range 256 {
					whole := rows[9]
					rows[9] = whole[:at] + string([]byte{byte(c)}) + whole[at+1:]
					compareStates(t, form, rows)
					rows[9] = whole
				}
			}
		}
	}
	if read < 20*10 {
		t.Errorf("only %d rows came to the loops", read)
	}
}

func compareStates(t *testing.T, form string, rows []string) int {
	t.Helper()
	l := &layouts[0]
	text, end := pad(strings.Join(rows, ""))
	var p template
	p.learn(l, text, 0)
	if !p.learned || !p.stated || p.timeSize > vectorTime {
		return 0
	}
	n := len(rows)
	var x, v [2][]float64
	for i := range x {
		x[i], v[i] = make([]float64, n), make([]float64, n)
	}
	k, after, last := p.freeStates(text, 0, end, x[0], v[0])
	vk, vafter, vlast := p.vectorStates(text, 0, end, x[1], v[1])
	if k != vk || after != vafter || last != vlast {
		t.Fatalf("%q: %d rows to %d, last at %d; the vector %d to %d, last at %d: %q", form, k, after, last, vk, vafter, vlast, rows[9])
	}
	for i := range k {
		if math.Float64bits(x[0][i]) != math.Float64bits(x[1][i]) || math.Float64bits(v[0][i]) != math.Float64bits(v[1][i]) {
			t.Fatalf("%q: %v %v, the vector %v %v", form, x[0][i], v[0][i], x[1][i], v[1][i])
		}
	}
	return k
}
