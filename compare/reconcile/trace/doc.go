// Package trace takes the capacitor's voltage, seen on a channel beside the output, as six numbers with their covariance: as
// facts for the back-solve, and in the JSON's form.
package trace
