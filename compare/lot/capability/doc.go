// Package capability says how well a process fits its limits, how sure that is, and whether its values are
// normally distributed, as the indexes suppose.
package capability
