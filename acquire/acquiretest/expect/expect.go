// Package expect is what tests expect: the outside values of testdata/published, whose source stands in each
// file's head, and how near a number must come.
package expect

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

// file finds a file of testdata/published from whichever package's test is running.
func file(t testing.TB, name string) string {
	t.Helper()
	folder, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(folder, "go.mod")); err == nil {
			return filepath.Join(folder, "testdata", "published", filepath.FromSlash(name))
		}
		up := filepath.Dir(folder)
		if up == folder {
			t.Fatal("no go.mod lies above the test's folder")
		}
		folder = up
	}
}

// Table reads a comma-separated table, its head first; lines that begin with # are remarks. Rows may differ in length.
func Table(t testing.TB, name string) [][]string {
	t.Helper()
	f, err := os.Open(file(t, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord = '#', -1
	all, err := r.ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if len(all) < 2 {
		t.Fatalf("%s holds no rows", name)
	}
	return all
}

// Rows reads a table without its head.
func Rows(t testing.TB, name string) [][]string {
	t.Helper()
	return Table(t, name)[1:]
}

// Values reads a TOML file into v.
func Values(t testing.TB, name string, v any) {
	t.Helper()
	text, err := os.ReadFile(file(t, name))
	if err != nil {
		t.Fatal(err)
	}
	if err := toml.Unmarshal(text, v); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// Number reads a cell.
func Number(t testing.TB, cell string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// Near complains where two numbers differ by more than a share of the wanted one.
func Near(t testing.TB, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: got %.15g, want %.15g to %.2g of it", what, got, want, relative)
	}
}

// Within complains where two numbers differ by more than a distance.
func Within(t testing.TB, what string, got, want, distance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= distance) {
		t.Errorf("%s: got %.15g, want %.15g ± %.2g", what, got, want, distance)
	}
}
