// Package web is the station's pages.
//
// A page is a file: the value of type page says its path, who may see it, and
// the function that makes its view, a plain struct. The template of the same
// name in templates/ shows the view as HTML; asked for application/json, the
// page gives the same struct as JSON. What changes something is an action: a
// POST with the session's token, see action. Both are listed in pages.go.
//
// Every request passes, in this order: the list of host names, the guard
// against other sites' pages, the session, the role. There is no script or
// style in the HTML; everything comes from static/, embedded in the program.
//
// All text that a person reads stands in the catalogue, text/*.json, by key and
// language, also the text the scripts show: it comes to them in the HTML.
//
// Live pages hold a stream of events open. The lane they show rings a bell for
// each change, and the stream sends what differs from what it sent before: a
// browser that is slow, or was away, never holds anything up and misses nothing.
package web
