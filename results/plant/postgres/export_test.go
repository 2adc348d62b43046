package postgres

// MigrateFrom migrates by other steps than the program's own.
var MigrateFrom = migrate
