// Package recognise finds out what shape an input has, from its first lines: cells, columns, units, what stands above the
// rows. It ends in a Plan, which package read follows.
package recognise
