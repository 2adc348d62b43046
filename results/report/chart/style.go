package chart

import _ "embed"

// Style is the style sheet of all charts. It takes the colours of the page
// where that names them: --ink, --paper, --soft, --rule, --accent, --alarm.
//
//go:embed chart.css
var Style string
