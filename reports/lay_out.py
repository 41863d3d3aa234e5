# Lays out one HTML page read from standard input as PDF on standard output. Run as a child:
#   /usr/bin/python3 -I -c THIS identifier
# It opens nothing the page names but data: addresses, so hostile text can reach neither files nor
# network.
import sys
import weasyprint

# Page 1 of a claim report has to hold its nine blocks: set smaller by steps until the next section
# starts on page 2. The first is the style sheet's own. If even the smallest does not do, that section
# follows without a break.
SIZES = ["7.5pt", "7.1pt", "6.7pt", "6.3pt", "6pt"]
START = '<section class="details" id="details">'


def fetch(url, *args, **kwargs):
    if url.startswith("data:"):
        return weasyprint.default_url_fetcher(url)
    raise ValueError("refused address")


def render(text, style=""):
    sheets = [weasyprint.CSS(string=style, url_fetcher=fetch)] if style else []
    html = weasyprint.HTML(string=text, url_fetcher=fetch, base_url=None)
    return html.render(stylesheets=sheets)


def page_of_details(document):
    return next((i for i, page in enumerate(document.pages) if "details" in page.anchors), 1)


def lay_out(page):
    document = render(page)
    start = page.find(START)
    if start < 0 or page_of_details(document) == 1:
        return document
    alone = page[:start] + "</main></body></html>"
    for size in SIZES[1:]:
        smaller = ".first { font-size: %s !important }" % size
        if len(render(alone, smaller).pages) > 1:
            continue
        document = render(page, smaller)
        if page_of_details(document) == 1:
            return document
    return render(page, ".details { break-before: auto !important }")


document = lay_out(sys.stdin.buffer.read().decode("utf-8"))
sys.stdout.buffer.write(
    document.write_pdf(identifier=sys.argv[1].encode(), variant="pdf/a-3b", version="1.7")
)
