//! What is shown until the page itself is there.

/// The page. No script and no style: the content-security policy allows none that is inline.
pub(crate) const PAGE: &str = "<!doctype html>
<html lang=\"en\">
<head>
<meta charset=\"utf-8\">
<meta name=\"viewport\" content=\"width=device-width\">
<title>Survey</title>
</head>
<body>
<main>
<h1>The page comes</h1>
<p>This server answers; its page is not part of this version yet. The command line does the same
work, and <a href=\"/api/openapi.json\">the description of the API</a> says what can be asked here.</p>
</main>
</body>
</html>
";
