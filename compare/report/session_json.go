package report

import "offbeat/compare"

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
