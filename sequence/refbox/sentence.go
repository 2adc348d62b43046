package refbox

import "padjig/sequence/fields"

// sentences words what is wrong with a box file, and what to write instead.
var sentences = map[fields.Code]string{
	"file.large":   "this is larger than %d KiB, which no box needs; is it a box file?",
	"file.empty":   `nothing in this file; begin with "box: NAME"`,
	"file.second":  `not YAML: a second document begins here; a box file is UTF-8 text with one box in it`,
	"file.break":   "not YAML: line break %U; end lines with a plain line feed",
	"file.control": "not YAML: control character %U; delete it",
	"yaml":         "not YAML: %[1]s; check indentation, quotes and brackets just before",
	"yaml.begun":   "not YAML: %[1]s; check indentation, quotes and brackets just before",
	"yaml.other":   "not YAML: %v; a box file is UTF-8 text with one box in it",
	"yaml.anchor":  "each value of a box must be plain text, not an anchor (&) or alias (*); put a name that begins with one in quotes",
	"yaml.tag":     "each value of a box must be plain text, without a type tag (!); put a name that begins with one in quotes",

	"fields.not":  `%[1]s must be a set of fields, each written as "name: value"`,
	"field.twice": "%[2]s has the field %[1]q already; take one out",
	"unknown":     "%s has no field %q; write one of: %s",
	"text":        "%s must be plain text, such as %q",
	"unprintable": "%s holds a character that does not print; delete it",
	"date":        "%s cannot be %q; write a day as 2027-04-18",
	"backwards":   "due before it was issued; write the day up to which the certificate holds",
	"resistors":   `no resistors; add "resistors:" and a line such as "  A: {pins: 1 2, value: 100 ohm, uncertainty: 5 mohm}"`,
	"none":        "no resistor in the box; add one",
	"loop": "%s closes a loop with the resistors before it, so that none of them can be read alone; " +
		"use other pins",
	"coarse":    "an uncertainty of %v on %v is no calibration; write the certificate's, with its unit",
	"pins":      "pins cannot be %q; write two pins, such as 1 2",
	"pin":       "%q is no pin; write a number from 1 to %d",
	"pins.same": "a resistor needs two different pins",
	"ohm":       "%s cannot be %v; write a value above 0 ohm, up to 1 Tohm",
	"k":         "k cannot be %q; write the coverage factor of the certificate, 1 to 5",
}
