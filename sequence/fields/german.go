package fields

import (
	"fmt"
	"strings"
)

// German says a mistake in German: by the sentences of its kind of file, or by those of
// every kind. One that came from elsewhere stays as it is.
func German(m Mistake, own map[Code]string) string {
	for _, table := range []map[Code]string{own, german} {
		if sentence, ok := table[m.Code]; ok && m.Code != "" {
			return fmt.Sprintf(sentence, germanArgs(m, own)...)
		}
	}
	return m.Message
}

// germanArgs are the arguments of a mistake with those that are words in German.
func germanArgs(m Mistake, own map[Code]string) []any {
	out := make([]any, len(m.Args))
	for i, arg := range m.Args {
		switch a := arg.(type) {
		case Suggestion:
			out[i] = a.german()
		case fieldList:
			out[i] = a.german()
		default:
			out[i] = arg
		}
	}
	if reason, is := first(m.Args); is && (m.Code == "yaml" || m.Code == "yaml.begun") {
		code := remedy(reason)
		sentence, ok := own[code]
		if !ok {
			sentence = german[code]
		}
		out[len(out)-1] = strings.ReplaceAll(sentence, "%%", "%")
	}
	return out
}

func first(args []any) (text string, is bool) {
	if len(args) == 0 {
		return "", false
	}
	text, is = args[0].(string)
	return text, is
}

func (m Suggestion) german() string {
	if near := m.Nearest(); len(near) > 0 {
		return fmt.Sprintf("; war %s gemeint?", strings.Join(near, " oder "))
	}
	if len(m.known) == 0 || len(m.known) > 14 {
		return ""
	}
	return "; eines von diesen schreiben: " + strings.Join(m.known, ", ")
}

func (known fieldList) german() string {
	if len(known) == 0 {
		return `, jedes als "NAME: Wert" geschrieben`
	}
	return ": " + strings.Join(known, ", ")
}

// german words the mistakes that every kind of file can hold, as [sentences] does.
var german = map[Code]string{
	"file.encoding":    "kein UTF-8-Text; die Datei als UTF-8 speichern",
	"file.break":       "Zeilenumbruch %U; Zeilen mit einfachem Zeilenvorschub beenden",
	"file.control":     "Steuerzeichen %U; löschen",
	"yaml":             "kein YAML: %s; %s",
	"yaml.begun":       "kein YAML: %s %s, begonnen in Zeile %d, Spalte %d; %s",
	"yaml.other":       "kein YAML: %v",
	"text.not":         "%s muss einfacher Text sein, keine Liste und keine Gruppe von Feldern",
	"text.empty":       "%s ist leer; einen Wert schreiben, in Anführungszeichen, wenn er mit # beginnt, oder das Feld weglassen",
	"line.control":     "%s enthält das Steuerzeichen %U; löschen",
	"list.not":         "%s müssen Namen mit Leerzeichen dazwischen sein, keine Gruppe von Feldern",
	"choice":           "%s kann nicht %q sein; schreiben: %s",
	"fields.not":       "%s muss eine Gruppe von Feldern sein%s",
	"field.twice":      "%q steht zweimal in %s (zuerst in Zeile %d); eines davon behalten",
	"field.unknown":    "unbekanntes Feld %q in %s%s",
	"field.missing":    "%s fehlt; %q ergänzen",
	"value":            "%s: %v",
	"value.negative":   "%s kann nicht negativ sein; einen positiven Wert schreiben",
	"value.odd":        "%s: %s ist nicht plausibel (%s bis %s); die Einheit richtigstellen",
	"bounds":           `%s kann nicht %q sein; "at most" und einen Wert schreiben, oder zwei Werte mit "to" dazwischen`,
	"bounds.least":     `%s kann nicht %q sein; "at least" und einen Wert schreiben`,
	"bounds.most":      `%s kann nicht %q sein; "at most" und einen Wert schreiben`,
	"bounds.backwards": "%s läuft rückwärts; den kleineren Wert zuerst schreiben",
	"whole":            "%s kann nicht %q sein; eine ganze Zahl von %d bis %d schreiben",
	"numbers":          "%s braucht %d Zahl(en) ohne Einheit; so schreiben: %q",
	"number":           "%s kann nicht %q sein; eine Zahl von %v bis %v ohne Einheit schreiben",

	"yaml.mapping": `die Einrückung prüfen, und Text, in dem ": " steht, in Anführungszeichen setzen`,
	"yaml.names":   `mit Leerzeichen einrücken, und Namen, die mit * & @ %% oder einem Anführungszeichen beginnen, in Anführungszeichen setzen: "*"`,
	"yaml.dash":    `Text, der mit "- " beginnt, in Anführungszeichen setzen`,
	"yaml.quote":   "das Anführungszeichen schließen",
	"yaml.bracket": "die Klammer schließen",
	"yaml.near":    "Einrückung, Anführungszeichen und Klammern unmittelbar davor prüfen",
}
