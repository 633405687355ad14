package report

import (
	"offbeat/compare"
	"offbeat/compare/ledger"
)

// Retuning is the JSON document of `offbeat retune`.
type Retuning struct {
	Schema    int                             `json:"schema"`
	Title     string                          `json:"title,omitempty"`
	Finding   string                          `json:"finding"` // of the board as it is
	Measured  compare.Times[compare.Measured] `json:"measured"`
	Verdict   compare.Verdict                 `json:"verdict"`
	Proposals []compare.Proposal              `json:"proposals"`
	Captures  []compare.Capture               `json:"captures"`
	Warnings  []string                        `json:"warnings"`
}

// Ledger is what `offbeat ledger` shows of what it lists; LedgerStream writes its JSON document.
type Ledger struct {
	Visits   []ledger.Visit // those shown, the oldest first
	Drift    []ledger.Drift // of the one board that was asked for
	Count    map[string]int // of all that were listed, by verdict
	Warnings []string
}

// HeardFinding is the JSON document of a stream that was heard and reconciled.
type HeardFinding struct {
	*compare.Finding
	*compare.Session
}

// HeardMeasurement is the JSON document of a stream that was heard without a design.
type HeardMeasurement struct {
	*Measurement
	*compare.Session
}
