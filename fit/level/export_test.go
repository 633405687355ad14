package level

// Recurring is recurring, for tests.
var Recurring = recurring
