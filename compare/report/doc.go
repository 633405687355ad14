// Package report writes findings, measurements and predictions: as text for a terminal, as JSON by schema 1,
// as one flat CSV table. It decides nothing and computes nothing but layout.
package report
