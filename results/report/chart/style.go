package chart

import _ "embed"

// Style is the style sheet of all charts. It takes the colours of the page
// where that names them: --ink, --card, --soft, --edge. It is dark where the
// page's root has data-theme dark, and with the reader's system where it is of class
// themed and not light, since a page that stays light must not have dark charts.
//
//go:embed chart.css
var Style string
