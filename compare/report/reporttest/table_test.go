package reporttest_test

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"offbeat/compare/report/document"
	"offbeat/compare/report/reporttest"
	"offbeat/compare/report/table"
)

func TestFindingTable(t *testing.T) {
	var b bytes.Buffer
	if err := table.Write(&b, document.Of(&document.Basis{Finding: reporttest.Finding()})); err != nil {
		t.Fatal(err)
	}
	reporttest.Golden(t, "finding.csv", b.Bytes())
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 1+5+5+2+3+5+2+3 {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	b.Reset()
	if err := table.Write(&b, &document.Document{}); err != nil || strings.Count(b.String(), "\n") != 1 {
		t.Errorf("no rows: %q, %v", b.String(), err)
	}
	b.Reset()
	if err := table.Write(&b, document.Of(&document.Basis{Finding: reporttest.Broken()})); err != nil {
		t.Fatal(err)
	}
	reporttest.Golden(t, "latch.csv", b.Bytes())
}

func TestLotTable(t *testing.T) {
	_, visits, _, _ := reporttest.LotBench(t)
	var b bytes.Buffer
	boards, err := table.NewLot(&b)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range visits {
		if err := boards.Board(o); err != nil {
			t.Fatal(err)
		}
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 31 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	if strings.Join(rows[0][:3], ",") != "board,lot,verdict" || rows[1][2] != "fail" || rows[1][11] != "shifted" || rows[1][12] != "C1" {
		t.Errorf("%q\n%q", rows[0], rows[1])
	}
	if failed := rows[9]; failed[0] != "lamp 9" || failed[3] != "" || !strings.Contains(failed[14], "cut short") {
		t.Errorf("%q", failed)
	}
}

func TestLedgerTable(t *testing.T) {
	var b bytes.Buffer
	w, err := table.NewLedger(&b)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range reporttest.Visits() {
		if err := w.Visit(&v); err != nil {
			t.Fatal(err)
		}
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 4 || rows[1][0] != "2026-01-31T08:00:00Z" || rows[1][1] != "lamp 7" || rows[3][21] != "cut short" {
		t.Errorf("%v %q", err, rows)
	}
}
