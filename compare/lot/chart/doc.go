// Package chart draws up Shewhart and EWMA control charts (ISO 7870-2, ISO 7870-6): their limits, and the
// patterns that say a process is not in control. It computes; it draws nothing.
package chart
