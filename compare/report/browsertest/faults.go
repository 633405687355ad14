package browsertest

import _ "embed"

// LayoutFaults lists what is wrong with the page as it is laid out: all the checks that need a real layout.
//
//go:embed layout.js
var LayoutFaults string

// Contrast lists texts, those in pictures too, that stand out less from what they stand on than WCAG 2.1 asks (1.4.3: 4.5 to 1,
// or 3 to 1 where they are large); what is hidden or can't be used now is left out, as there.
//
//go:embed contrast.js
var Contrast string
