// Package mistakes says the mistakes in a product file in the languages of the pages.
package mistakes

import "padjig/sequence/fields"

// In says a mistake in a language, by its tag; what there is no German for, and every
// other language, is said in English.
func In(lang string, m fields.Mistake) string {
	if lang == "de" {
		return fields.German(m, german)
	}
	return m.Message
}

// german words every mistake as package product does in English. The words of the file itself stay as
// they are written there.
var german = map[fields.Code]string{
	"file.large":  "die Datei ist größer als %d KiB, was keine Tastatur braucht; ist es eine Produktdatei?",
	"file.empty":  `diese Datei ist leer; mit "product: CODE" beginnen`,
	"file.second": `hier beginnt ein zweites Dokument; "---" löschen und je Datei ein Produkt schreiben`,
	"yaml.anchor": "Anker (&) und Verweise (*) gibt es in Produktdateien nicht; den Wert ausschreiben, oder einen Namen, der mit & oder * " +
		"beginnt, in Anführungszeichen setzen",
	"yaml.deep": "Klammern und Einrückung herausnehmen: eine Produktdatei hat wenige Ebenen",
	"yaml.tag":  "Typangaben (!) gibt es in Produktdateien nicht; einen Namen, der mit ! beginnt, in Anführungszeichen setzen",

	"renamed":         `%[1]q von %[2]s heißt jetzt %[4]q; "%[4]s: %[5]s" schreiben`,
	"renamed.counted": `%[1]q von %[2]s %[3]q zählte ab 0; "%[4]s: %[6]s" schreiben, das zählt ab 1 wie auf dem Schild der Vorrichtung`,

	"percent": `%q ist keine Angabe in Prozent; so schreiben: "5 %%"`,

	"code": "Produktcode %q; Buchstaben, Ziffern, Punkte, Striche und Unterstriche schreiben, höchstens 40",

	"lines.none":     "keine Leitungen; eine Matrix aus rows, columns und keys ergänzen, oder Leitungen wie {direct: K1 K2, common: COM}",
	"lines.many":     "%d Leitungen; eine Vorrichtung erreicht höchstens %d, die Tastatur also in zwei Produkte teilen",
	"axis.many":      "%d %s; eine Matrix hat höchstens %d",
	"line.character": "der Leitungsname %q enthält das Zeichen %U; ohne Leerzeichen und Steuerzeichen schreiben",
	"line.reserved":  "%q hat eine eigene Bedeutung und kann keine Leitung benennen; einen anderen Namen wählen",
	"line.twice":     "die Leitung %q gibt es schon (Zeile %d); jeder Leitung ihren eigenen Namen geben",
	"line.unused":    "keine Taste an der Leitung %[2]q (%[1]s); eine ergänzen, die Leitung herausnehmen oder als shield führen",
	"tail.many":      "%d Pins am Anschluss; eine Vorrichtung erreicht höchstens %d",
	"tail.lacks":     "die Leitung %q hat keinen Pin; sie in tail dort ergänzen, wo sie herauskommt",
	"tail.unknown":   `Pin %d in tail: keine Leitung %q%s (ein freier Pin ist "-")`,
	"tail.twice":     `Pin %d in tail: die Leitung %q liegt schon auf Pin %d; für einen freien Pin "-" schreiben`,

	"grid.short": `das Raster hat %d Zeilen mit Tasten für %d Zeilenleitungen; für jede eine Zeile schreiben, "--", wo keine Taste ist`,
	"grid.long":  "die Zeile %d des Rasters hat keine Zeilenleitung; in rows eine weitere nennen, oder sie herausnehmen",
	"row.remark": "die Zeile %s hat %d Kreuzungen für %d Spalten; im Raster kann keine Bemerkung stehen, sie also darüber schreiben",
	"row.long": "die Zeile %s hat %d Kreuzungen für %d Spalten; Spalten nennen oder Kreuzungen herausnehmen, und mehrere Tasten auf " +
		"einer Kreuzung als A&B schreiben",
	"row.short": `die Zeile %s hat %d Kreuzungen für %d Spalten; "--" schreiben, wo keine Taste ist`,

	"keys.none":     `keine Tasten; sie in der Matrix oder unter keys ergänzen, wie in "UP: K1 COM"`,
	"keys.many":     "%d Tasten; ein Produkt hat höchstens %d",
	"keys.overlap":  `die Tasten %q und %q überdecken sich in der Zeichnung; eine verschieben oder verkleinern ("at", "size"), oder ein layout zeichnen`,
	"key.character": "die Beschriftung %q enthält das Zeichen %U; Buchstaben, Ziffern und Zeichen ohne Leerzeichen schreiben",
	"key.unnamed":   `eine Taste zwischen &-Zeichen hat keine Beschriftung; A&B schreiben, oder "--" für keine Taste`,
	"key.reserved":  `%q kann keine Beschriftung sein: "--" ist eine leere Kreuzung, und & steht zwischen Tasten`,
	"key.long":      "die Beschriftung %q ist zu lang; höchstens %d Zeichen schreiben",
	"key.twice":     "die Taste %q gibt es schon (Zeile %d, Spalte %d); jeder Taste ihre eigene Beschriftung geben",
	"key.shares": "die Taste %[1]q verbindet %[2]s und %[3]s wie die Taste %[4]q; wenn beide auf einer Kreuzung liegen sollen, bei ihr " +
		`"shares: %[4]s" ergänzen`,
	"key.lines":  "die Taste %q hat ihre Leitungen von ihrem Platz in der Matrix; lines herausnehmen",
	"key.near":   `die Taste %q ist nicht in der Matrix; war %s gemeint? Sonst ihre zwei Leitungen ergänzen, wie in "lines: K1 COM"`,
	"key.loose":  `die Taste %q ist nicht in der Matrix; ihre zwei Leitungen ergänzen, wie in "lines: K1 COM"`,
	"key.ends":   `die Taste %q verbindet zwei Leitungen; sie schreiben wie "K1 COM"`,
	"key.itself": "die Taste %q verbindet die Leitung %q mit sich selbst; die andere Leitung nennen",
	"key.line":   "die Taste %q liegt an der Leitung %q, die es nicht gibt%s",
	"key.shield": "die Taste %q liegt am Schirm %q, an dem sich gar nichts zeigen darf; wenn er eine Taste trägt, ihn unter ground oder " +
		"common führen",
	"key.sizes":        "die Taste %q hat width und size; eines davon behalten",
	"key.diodeless":    "die Taste %q hat keine Diode, für die es eine Grenze gäbe; ihr eine geben, oder die Grenze herausnehmen",
	"shares.unknown":   "die Taste %q teilt ihre Kreuzung mit %q, und das ist keine andere Taste%s",
	"shares.elsewhere": "die Tasten %q und %q liegen auf verschiedenen Kreuzungen; shares herausnehmen",
	"actuator.twice": "die Tasten %q und %q liegen beide auf Stößel %d; jeder ihren eigenen geben (die eigene Nummer einer Taste ist ihr " +
		"Platz in der Reihe der Tasten)",
	"diode":           `diode kann nicht %q sein; "none" schreiben oder den Weg des Stroms, wie in "R1 to C1"`,
	"diode.ends":      `Diode der Taste %[1]q: "%[2]s to %[3]s" oder "%[3]s to %[2]s" schreiben, den Weg des Stroms`,
	"group.character": "der Gruppenname %q enthält das Zeichen %U; ohne Leerzeichen schreiben",
	"group.unknown":   "unter groups gibt es keine Gruppe %q, dort muss sie ergänzt werden%s",
	"group.second":    "die Taste %q ist schon in der Gruppe %q; eine Taste ist in höchstens einer",
	"group.key":       "Gruppe %q: keine Taste %q%s",
	"group.empty":     `die Gruppe %q hat keine Taste; "keys: LABEL LABEL" ergänzen oder sie herausnehmen`,

	"tracks.unknown":  "tracks: keine Leitung %q%s",
	"tracks.axis":     `%s: "first to last" oder "last to first" schreiben; eine Reihe von Beschriftungen gehört zu einer einzelnen Leitung`,
	"track.unknown":   "Bahn von %s: keine Taste %q%s",
	"track.elsewhere": "Bahn von %s: die Taste %q liegt nicht an dieser Leitung; herausnehmen",
	"track.twice":     "die Bahn von %s erreicht die Taste %q zweimal; sie einmal nennen, wo die Bahn zuerst hinkommt",
	"track.lacks":     "in der Bahn von %s fehlt die Taste %q; vom Anschluss an jede Taste der Leitung nennen",
	"layout.unknown":  `layout: keine Taste %q%s (eine Lücke ist "--")`,
	"layout.lacks":    `im layout fehlt die Taste %q; sie ergänzen, oder ihr mit "at: 5 0" einen Platz geben`,
	"layout.twice":    "das layout zeigt die Taste %q zweimal; eine davon behalten",
	"layout.placed":   `die Taste %q hat einen eigenen Platz; sie aus dem layout nehmen oder ihr "at" herausnehmen`,

	"contact.open":   `contact resistance: eine gedrückte Taste braucht eine obere Grenze; "at most 200 ohm" oder "5 ohm to 200 ohm" schreiben`,
	"contact.odd":    `contact resistance: %v ist für eine gedrückte Taste nicht plausibel (%v bis %v); so schreiben: "at most 200 ohm"`,
	"insulation.odd": `insulation resistance: %v ist für eine losgelassene Taste nicht plausibel (%v bis %v); so schreiben: "at least 10 Mohm"`,
	"bounce.odd":     `%s: ein Prellen von %s ist nicht plausibel (%s bis %s); so schreiben: "at most 10 ms"`,
	"forward.odd":    `diode: die Flussspannung braucht zwei Enden von %v bis %v; so schreiben: "0.3 V to 1.0 V"`,
	"guard": `guard kann nicht %q sein; ein Vielfaches der erweiterten Unsicherheit bis %v schreiben, wie "1 U" oder "0.83 U", oder das ` +
		`Risiko unter 50 %%, das ein Messwert genau am Rand haben darf, wie "risk 1 %%", oder "none"`,
	"limits.diodeless": `keine Taste hat eine Diode, für die es eine Grenze gäbe; "diodes: row to column" in der Matrix ergänzen, oder das herausnehmen`,
	"limits.crossed": "insulation resistance %v liegt nicht über contact resistance %v, eine Taste könnte also zugleich gedrückt und " +
		"losgelassen sein; das eine erhöhen oder das andere senken",

	"insulation.test": "insulation: padjig macht keine Isolationsprüfung mit hoher Spannung: sie kann die Tastatur unbemerkt beschädigen, und ein " +
		"Gerät, das eine hatte, sollte nicht ausgeliefert werden. Der Isolationswiderstand wird an jedem Gerät innerhalb der " +
		`Prüfspannung gemessen; das hier löschen und "insulation resistance" unter limits setzen, etwa "at least 50 Mohm"`,
	"current.odd": `current: %v ist mehr, als eine Tastatur führt; so schreiben: "at most 5 mA", höchstens %v`,
	"voltage.high": "voltage: %v liegt über 60 V Gleichspannung, der Grenze für Teile, die jemand berühren kann, und Tastaturen werden " +
		`berührt; so schreiben: "at most 5 V"`,
	"voltage.none":   `voltage: mit %v lässt sich nichts messen; so schreiben: "at most 5 V"`,
	"voltage.diodes": "voltage: %v bringt Dioden mit der Grenze %v nicht zum Leiten; erhöhen",
	"rectangles": "rectangles: ohne Dioden lesen sich drei gedrückte Ecken immer wie die vierte, die Prüfung zeigt also nichts; " +
		`"no" schreiben oder der Matrix ihre Dioden geben`,
	"proof":           "%s kann nicht %q sein; eines oder mehrere davon schreiben, mit Kommas dazwischen: %s",
	"proof.untested":  `%s: %s wird hier nicht geprüft; herausnehmen`,
	"proof.twice":     "%s nennt %q zweimal; eines davon behalten",
	"saturation.none": `der Sättigungsstrom muss über null liegen; so schreiben: "2.5 nA"`,
	"point":           `diode kann nicht %q sein; ihre Spannung bei einem Strom schreiben, wie "0.6 V at 1 mA"`,
	"point.odd":       `diode: %v bei %v ist nicht plausibel; ihre Spannung bei einem Strom schreiben, wie "0.6 V at 1 mA"`,
	"nominal.outside": "ein gutes Gerät läse nach den Nennwerten %v an Taste %q, außerhalb ihrer Grenzen für contact resistance (%v bis %v); " +
		"nominal richtigstellen, oder der Taste einen eigenen Wert contact geben",

	"supply.odd":         `supply: %v ist für Logik nicht plausibel; so schreiben: "3.3 V"`,
	"pullup.odd":         `pull-up: %v ist nicht plausibel; so schreiben: "47 kohm"`,
	"thresholds.crossed": "scanner: low (%v) muss unter high (%v) liegen; vertauschen oder richtigstellen",
	"thresholds.outside": "scanner: die Schwellen %v und %v müssen zwischen 0 V und der Versorgung von %v liegen",
	"scanner.pressed": "der scanner liest die Taste %q nur bis %v als gedrückt, ihre Grenze für contact resistance ist aber %v; die Grenze " +
		"senken oder den scanner richtigstellen",
	"scanner.released": "der scanner liest die Taste %q erst ab %v als losgelassen, ihre Grenze für insulation resistance ist aber %v; die " +
		"Grenze erhöhen oder den scanner richtigstellen",

	"adapter":       "adapter %q; die Kennung so schreiben, wie die Vorrichtung sie nennt, höchstens %d Buchstaben, Ziffern und Zeichen ohne Leerzeichen",
	"adapter.twice": "adapter %q ist zweimal genannt; einen herausnehmen",
	"adapter.none":  "adapter nennt keinen; die passenden nennen, oder das Feld herausnehmen, wo jeder passt",

	"format.character": "das Seriennummernformat %q darf nur ASCII-Buchstaben, Ziffern und Zeichen ohne Leerzeichen enthalten; anderes lesen " +
		"Scanner nicht alle gleich",
	"format.long":   "das Seriennummernformat %q ist zu lang; höchstens %d Zeichen schreiben",
	"format.same":   "das Seriennummernformat %q ist für jedes Gerät gleich; # für eine Ziffer schreiben, @ für einen Buchstaben, ? für beides",
	"check.unknown": `check kann nicht %q sein; eines von "%s" schreiben, in geschweiften Klammern mit Anführungszeichen`,
	"check.missing": `das Seriennummernformat %q hat ein Prüfzeichen (*), aber kein check; "check: mod 37,36" ergänzen`,
	"check.places":  "das Seriennummernformat %q hat Prüfzeichen (*): %d, %s braucht aber %d; %q an sein Ende schreiben",
	"check.end":     "das Seriennummernformat %q geht nach seinen Prüfzeichen weiter; %q an sein Ende setzen",
	"check.letters": `das Seriennummernformat %q hat Buchstaben, die %s nicht prüfen kann; "check: mod 37,36" schreiben`,

	"stops.row": `%s kann nicht %q sein; schreiben, wie viele hintereinander die Linie anhalten, wie "3 units" (%d bis %d), oder "none"`,
	"stops.yield": `yield kann nicht %q sein; die Ausbeute im ersten Durchgang schreiben, unter der die Linie anhält, und über wie viele Geräte ` +
		`(höchstens %d), wie "90 %% of 50 units", oder "none"`,

	"references.none": `references braucht ein gutes Gerät; "good: REF-1" ergänzen, seine Seriennummer`,
	"reference.twice": "das Referenzgerät %q ist zweimal genannt; eines davon behalten",
	"reference.place": "keine Taste oder Leitung %q%s",
	"every":           `every kann nicht %q sein; "8 h", "200 units" oder "8 h or 200 units" schreiben`,
	"every.unit":      `every: %q ist hier keine Einheit; h, min oder units schreiben, wie in "8 h or 200 units"`,
	"within":          `within kann nicht %q sein; einen Teil des Messwerts schreiben, wie "15 %%"`,
	"bad.not":         `bad muss eine Gruppe von Geräten sein, jedes wie "REF-2: key open at 7"`,
	"bad":             `%q sagt nicht, was wo gefunden werden muss; so schreiben: "key open at 7" oder "lines shorted at R1 R2"`,
}
