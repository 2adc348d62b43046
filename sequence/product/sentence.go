package product

import (
	"maps"

	"padjig/sequence/fields"
)

// Sentences are those of the mistakes of a product file.
func Sentences() map[fields.Code]string { return maps.Clone(sentences) }

// sentences words every mistake: what is wrong, and what to write instead.
var sentences = map[fields.Code]string{
	"file.large":  "this is larger than %d KiB, which no keypad needs; is it a product file?",
	"file.empty":  `nothing in this file; begin with "product: CODE"`,
	"file.second": `a second document begins here; delete the "---" and keep one product to a file`,
	"yaml.anchor": "anchors (&) and aliases (*) are not used in product files; " +
		"write the value out, or put a name that begins with & or * in quotes",
	"yaml.deep": "take brackets and indentation out: a product file is a few levels deep",
	"yaml.tag":  "type tags (!) are not used in product files; put a name that begins with ! in quotes",

	"renamed":         `%[1]q of %[2]s is named %[4]q now; write "%[4]s: %[5]s"`,
	"renamed.counted": `%[1]q of %[2]s %[3]q counted from 0; write "%[4]s: %[6]s", which counts from 1 as on the jig's plate`,

	"percent": `%q is no percentage; write it like "5 %%"`,

	"code": "product code %q; write letters, digits, dots, dashes, underscores, 40 at most",

	"lines.none":     "no lines; add a matrix of rows, columns and keys, or lines such as {direct: K1 K2, common: COM}",
	"lines.many":     "%d lines; a jig reaches %d at most, so split the pad into two products",
	"axis.many":      "%d %s; a matrix has %d at most",
	"line.character": "line name %q holds the character %U; write it without spaces and control characters",
	"line.reserved":  "%q has a meaning of its own and cannot name a line; choose another name",
	"line.twice":     "line %q is there already (line %d); give each line its own name",
	"line.unused":    "no key on %s line %q; add one, take the line out, or make it a shield",
	"tail.many":      "%d tail pins; a jig reaches %d at most",
	"tail.lacks":     "line %q has no tail pin; add it to tail where it comes out",
	"tail.unknown":   `tail pin %d: no line %q%s (an unused pin is "-")`,
	"tail.twice":     `tail pin %d: line %q is on pin %d already; write "-" for an unused pin`,

	"grid.short": `the grid has %d rows of keys for %d row lines; write a row for each, "--" where there is no key`,
	"grid.long":  "row %d of the grid has no row line; name one more in rows, or take it out",
	"row.remark": "row %s has %d crossings for %d columns; a remark cannot stand inside the grid, so move it above",
	"row.long": "row %s has %d crossings for %d columns; take out or name the columns, and write several keys on one " +
		"crossing as A&B",
	"row.short": `row %s has %d crossings for %d columns; write "--" where there is no key`,

	"keys.none":     `no keys; add them to the matrix or under keys, as in "UP: K1 COM"`,
	"keys.many":     "%d keys; a product has %d at most",
	"keys.overlap":  `keys %q and %q overlap on the drawing; move or resize one ("at", "size"), or draw a layout`,
	"key.character": "key label %q holds the character %U; write letters, digits and signs, no spaces",
	"key.unnamed":   `a key between & signs has no label; write A&B, or "--" for no key`,
	"key.reserved":  `%q cannot be a key label: "--" is an empty crossing and & stands between keys`,
	"key.long":      "key label %q is too long; write %d characters at most",
	"key.twice":     "key %q is there already (line %d, column %d); give each key its own label",
	"key.shares": "key %[1]q joins %[2]s and %[3]s as key %[4]q does; if both are meant to sit on one crossing, add " +
		`"shares: %[4]s" to it`,
	"key.lines":  "key %q has its lines from its place in the matrix; take lines out",
	"key.near":   `key %q is not in the matrix; did you mean %s? Otherwise add its two lines, as in "lines: K1 COM"`,
	"key.loose":  `key %q is not in the matrix; add its two lines, as in "lines: K1 COM"`,
	"key.ends":   `key %q joins two lines; write them like "K1 COM"`,
	"key.itself": "key %q joins line %q to itself; name the other line",
	"key.line":   "key %q is on line %q, which does not exist%s",
	"key.shield": "key %q is on shield %q, which must show nothing at all; if it carries a key, list it under ground " +
		"or common",
	"key.sizes":        "key %q has width and size; keep one of them",
	"key.diodeless":    "key %q has no diode to limit; give it one, or take this limit out",
	"shares.unknown":   "key %q shares its crossing with %q, which is no other key%s",
	"shares.elsewhere": "keys %q and %q are on different crossings; take shares out",
	"actuator.twice": "keys %q and %q are both on actuator number %d; give each its own " +
		"(a key's own number is its place in the order of keys)",
	"diode":           `diode cannot be %q; write "none" or the way current flows, as in "R1 to C1"`,
	"diode.ends":      `diode of key %[1]q: write "%[2]s to %[3]s" or "%[3]s to %[2]s", the way current flows`,
	"group.character": "group name %q holds the character %U; write it without spaces",
	"group.unknown":   "no group %q under groups, where it must be added%s",
	"group.second":    "key %q is in group %q already; a key is in one group at most",
	"group.key":       "group %q: no key %q%s",
	"group.empty":     `group %q has no key; add "keys: LABEL LABEL" or take it out`,

	"tracks.unknown":  "tracks: no line %q%s",
	"tracks.axis":     `%s: write "first to last" or "last to first"; an order of labels belongs to a single line`,
	"track.unknown":   "track of %s: no key %q%s",
	"track.elsewhere": "track of %s: key %q is not on this line; take it out",
	"track.twice":     "track of %s reaches key %q twice; name it once, where the track comes first",
	"track.lacks":     "track of %s leaves out key %q; name every key on the line, from the tail",
	"layout.unknown":  `layout: no key %q%s (a gap is "--")`,
	"layout.lacks":    `layout leaves out key %q; add it, or give it a place with "at: 5 0"`,
	"layout.twice":    "layout shows key %q twice; keep one of them",
	"layout.placed":   `key %q has a place of its own; take it out of the layout or take out its "at"`,

	"contact.open":   `contact resistance: a pressed key needs an upper limit; write "at most 200 ohm" or "5 ohm to 200 ohm"`,
	"contact.odd":    `contact resistance: %v is not plausible for a pressed key (%v to %v); write it like "at most 200 ohm"`,
	"insulation.odd": `insulation resistance: %v is not plausible for a key at rest (%v to %v); write it like "at least 10 Mohm"`,
	"bounce.odd":     `%s: a bounce of %s is not plausible (%s to %s); write it like "at most 10 ms"`,
	"forward.odd":    `diode: the forward voltage needs two ends from %v to %v; write them like "0.3 V to 1.0 V"`,
	"guard": `guard cannot be %q; write a multiple of the expanded uncertainty up to %v, such as "1 U" ` +
		`or "0.83 U", or the risk below 50 %% that a reading right at the edge may carry, such as "risk 1 %%", or "none"`,
	"limits.diodeless": `no key has a diode to limit; add "diodes: row to column" to the matrix, or take this out`,
	"limits.crossed": "insulation resistance %v is not above contact resistance %v, so a key could be pressed and " +
		"released at once; raise the one or lower the other",

	"insulation.test": "insulation: padjig makes no insulation test at high voltage: it can damage the pad unseen, and a " +
		"unit that has had one should not be shipped. Every unit's insulation resistance is measured within test " +
		`voltage instead; delete this, and set "insulation resistance" under limits, such as "at least 50 Mohm"`,
	"current.odd": `current: %v is beyond what a keypad carries; write it like "at most 5 mA", %v at most`,
	"voltage.high": "voltage: %v is above 60 V DC, the limit for parts a person may touch, and operators touch " +
		`keypads; write it like "at most 5 V"`,
	"voltage.none":   `voltage: nothing can be measured at %v; write it like "at most 5 V"`,
	"voltage.diodes": "voltage: %v cannot make diodes conduct whose limit is %v; raise it",
	"contact.diodes": "contact current: every key has a series diode, whose drop hides a film on the contact: nothing tells the " +
		"two apart; take it out",
	"contact.scanner": "contact current: no scanner is stated whose current it could be; state the scanner, or the current " +
		`itself, such as "50 uA"`,
	"contact.stated":  `contact current cannot be %q where the scanner is stated, which says what it is; write "scanner"`,
	"contact.current": "contact current: %v is not plausible (%v up to the test current of %v); write it like \"50 uA\"",
	"rectangles": "rectangles: without diodes three pressed corners always read as the fourth, so the test shows " +
		`nothing; write "no" or give the matrix its diodes`,
	"proof":           "%s cannot be %q; write one or more of these, with commas between them: %s",
	"proof.untested":  `%s: %s are not tested here; take it out`,
	"proof.twice":     "%s names %q twice; keep one of them",
	"saturation.none": `saturation current must be above zero; write it like "2.5 nA"`,
	"point":           `diode cannot be %q; write its drop at a current, such as "0.6 V at 1 mA"`,
	"point.odd":       `diode: %v at %v is not plausible; write its drop at a current, such as "0.6 V at 1 mA"`,
	"nominal.outside": "a good unit would read %v at key %q by the nominal values, which is outside its limits of contact " +
		"resistance (%v to %v); correct nominal, or give the key a contact value of its own",

	"supply.odd":         `supply: %v is not plausible for logic; write it like "3.3 V"`,
	"pullup.odd":         `pull-up: %v is not plausible; write it like "47 kohm"`,
	"thresholds.crossed": "scanner: low (%v) must be below high (%v); exchange or correct them",
	"thresholds.outside": "scanner: thresholds %v and %v must lie between 0 V and the supply of %v",
	"scanner.pressed": "scanner reads key %q as pressed up to %v only, but its limit of contact resistance is %v; " +
		"lower the limit or correct the scanner",
	"scanner.released": "scanner reads key %q as released from %v only, but its limit of insulation resistance is %v; " +
		"raise the limit or correct the scanner",

	"adapter":       "adapter %q; write the identity as the jig states it, in at most %d letters, digits and signs without spaces",
	"adapter.twice": "adapter %q is named twice; take one out",

	"format.character": "serial format %q may hold only ASCII letters, digits and signs, no spaces; scanners read nothing " +
		"else alike",
	"format.long":   "serial format %q is too long; write %d characters at most",
	"format.same":   "serial format %q is the same for every unit; write # for a digit, @ for a letter, ? for either",
	"check.unknown": `check cannot be %q; write one of "%s", inside braces in quotes`,
	"check.missing": `serial format %q has a check character (*) but no check; add "check: mod 37,36"`,
	"check.places":  "serial format %q has check characters (*): %d, but %s needs %d; write %q at its end",
	"check.end":     "serial format %q goes on after its check characters; put %q at its end",
	"check.letters": `serial format %q has letters, which %s cannot check; write "check: mod 37,36"`,

	"stops.row": `%s cannot be %q; write how many in a row stop the line, such as "3 units" (%d to %d), or "none"`,
	"stops.yield": `yield cannot be %q; write the first-pass yield below which the line stops and over how many units ` +
		`(%d at most), such as "90 %% of 50 units", or "none"`,

	"references.none": `references need a good unit; add "good: REF-1", its serial number`,
	"reference.twice": "reference unit %q is named twice; keep one of them",
	"reference.place": "no key or line %q%s",
	"every":           `every cannot be %q; write "8 h", "200 units" or "8 h or 200 units"`,
	"every.unit":      `every: %q is no unit here; write h, min or units, as in "8 h or 200 units"`,
	"within":          `within cannot be %q; write a part of the reading, such as "15 %%"`,
	"bad.not":         `bad must be a set of units, each like "REF-2: key open at 7"`,
	"bad": `%q does not say what must be found where; write it like "key open at 7" or "lines shorted at R1 ` +
		`R2"`,
}
