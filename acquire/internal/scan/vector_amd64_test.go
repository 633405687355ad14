package scan

import "testing"

// TestWithoutVectors: the loops for other machines and longer times pass the same tests.
func TestWithoutVectors(t *testing.T) {
	had := hasVector
	hasVector = false
	defer func() { hasVector = had }()
	t.Run("runs", TestRuns)
	t.Run("every byte", TestEveryByte)
	t.Run("digits that wrap", TestDigitsThatWrap)
	t.Run("all readers", TestFastReadersAgreeWithTheCareful)
}
