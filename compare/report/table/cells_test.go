package table

import (
	"encoding/csv"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"unicode"
)

// No cell of text begins like a formula, numbers stay what they are, and a reader finds every other cell again.
func TestNoCellIsAFormula(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 1))
	alphabet := []rune("=+-@＝＠ \t\r\n,;\"'|!1.5eabcµ")
	for range 20000 {
		row := make([]string, 1+random.IntN(4))
		for i := range row {
			if random.IntN(4) == 0 {
				row[i] = strconv.FormatFloat(random.NormFloat64(), 'g', -1, 64)
				continue
			}
			for range random.IntN(8) {
				row[i] += string(alphabet[random.IntN(len(alphabet))])
			}
		}
		var b strings.Builder
		w := newCells(&b)
		if err := w.Write(row); err != nil {
			t.Fatal(err)
		}
		w.Flush()
		if strings.Join(row, "") == "" {
			continue // a line of its own kind
		}
		got, err := csv.NewReader(strings.NewReader(b.String())).Read()
		if err != nil || len(got) != len(row) {
			t.Fatalf("%q: %q, %v", row, b.String(), err)
		}
		for i, c := range got {
			plain := strings.ReplaceAll(row[i], "\r\n", "\n") // RFC 4180's line end within a cell
			if c != plain && c != "'"+plain {
				t.Errorf("%q became %q", row[i], c)
			}
			_, number := strconv.ParseFloat(row[i], 64)
			begin := strings.TrimLeftFunc(c, unicode.IsSpace)
			if number == nil && c != plain || number != nil && begin != "" && strings.ContainsAny(string([]rune(begin)[:1]), "=+-@＝＠") {
				t.Errorf("%q became %q", row[i], c)
			}
		}
	}
}
