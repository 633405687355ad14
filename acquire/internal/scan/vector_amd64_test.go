package scan

import "testing"

// TestWithoutVectors: the loops for other machines and longer times pass the same tests.
func TestWithoutVectors(t *testing.T) {
	had, marks := hasVector, hasMarks
	hasVector, hasMarks = false, false
	defer func() { hasVector, hasMarks = had, marks }()
	t.Run("runs", TestRuns)
	t.Run("every byte", TestEveryByte)
	t.Run("digits that wrap", TestDigitsThatWrap)
	t.Run("all readers", TestFastReadersAgreeWithTheCareful)
}
