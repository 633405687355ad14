package cause

// words are the causes in a few words.
var words = map[string]string{
	"nothing":     "nothing wrong",
	"shifted":     "a part out of tolerance",
	"other value": "another value fitted",
	"exchanged":   "resistors exchanged",
	"leakage":     "a leaking capacitor",
	"thresholds":  "moved thresholds",
	"discharge":   "a weak discharge switch",
	"clock":       "a wrong instrument clock",
	"unexplained": "none of these",
}

// Word is a cause, by its name in the JSON, in a few words.
func Word(name string) string { return words[name] }
