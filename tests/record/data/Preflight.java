import java.io.File;
import org.apache.pdfbox.preflight.PreflightDocument;
import org.apache.pdfbox.preflight.ValidationResult;
import org.apache.pdfbox.preflight.exception.SyntaxValidationException;
import org.apache.pdfbox.preflight.parser.PreflightParser;

/** Says "valid", or what a file has against PDF/A-1b. */
public class Preflight {
    public static void main(String[] files) throws Exception {
        ValidationResult result;
        PreflightParser parser = new PreflightParser(new File(files[0]));
        try {
            parser.parse();
            try (PreflightDocument document = parser.getPreflightDocument()) {
                document.validate();
                result = document.getResult();
            }
        } catch (SyntaxValidationException error) {
            result = error.getResult();
        }
        System.out.println(result.isValid() ? "valid" : "not valid");
        for (ValidationResult.ValidationError error : result.getErrorsList()) {
            System.out.println(error.getErrorCode() + " " + error.getDetails());
        }
    }
}
