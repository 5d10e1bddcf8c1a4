"""Ways out of the record: FHIR R4, CSV, JSON and a page to print. They read the record and change nothing."""
