// Package lot judges many boards of one design.
//
//  1. Group puts a manifest's captures together by board.
//  2. Run has every board reconciled, several at once, and hands the results out in the manifest's order.
//  3. A Collector keeps of each board what the lot needs, some hundred bytes.
//  4. Collector.Report decides: acceptance (package acceptance), capability and normality (capability), charts
//     (chart), what moved for the whole lot (hierarchy and reconcile), which boards stand out and what sets each apart from
//     the others, which then is its one cause, and what measuring adds (gauge).
//
// Package report writes it down.
package lot
